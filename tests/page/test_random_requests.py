"""Random requests: none is answered by a fault, none writes outside the folder."""

import random
import shutil
from urllib.parse import quote

from tests.page.conftest import EXAMPLES
from tests.page.visit import ORIGIN, Visit

REQUESTS = 200
PATHS = (
    "/", "/new", "/phone", "/phone.svg", "/c/{c}", "/c/{c}/bag", "/c/{c}/bag/add",
    "/c/{c}/bag/look", "/c/{c}/bag/remove", "/c/{c}/bag/put", "/c/{c}/bag/upload",
    "/c/{c}/clutch", "/c/{c}/match", "/c/{c}/match/stop", "/c/{c}/p/{p}/{n}/build",
    "/c/{c}/p/{p}/{n}/tick", "/c/{c}/p/{p}/{n}/gauge", "/c/{c}/p/{p}/{n}/reading",
    "/c/{c}/p/{p}/{n}/void", "/c/{c}/p/{p}/{n}/insist", "/c/{c}/p/{p}/{n}/choose",
    "/c/{c}/p/{p}/{n}/tick-move", "/static/{p}", "/{p}/{c}",
)  # fmt: skip
FIELDS = (
    "disc", "thickness", "height", "edge", "flat", "od", "id", "lot", "note", "version", "again",
    "insist", "field", "line", "word", "how", "round", "shoe", "kind", "load", "answer", "rank",
    "part", "on", "clear", "name", "units", "clutch.travel", "was.clutch.travel", "stack.shims",
    "disc.od", "target.load", "mine",
)  # fmt: skip
VALUES = (
    "", "1", "0", "-1", "2", "first", "settled", "895", "8,9", "0.9", "0.905", "sharp", "dressed",
    "A01", "add", "instead", "1e308", "nan", "9" * 30, "x" * 5000, "../../etc/passwd", "\0", "\n",
    "<b>", "{{ 7*7 }}", "';--", "\ud7ff", "é", "1\r\nx: y", '"', "a,b;c\td", "=1+1", "thickness",
)  # fmt: skip
NAMES = ("this", "match-1", "..", "", "%2e%2e", "é", "a" * 300, "page.js", "<b>", "none")


def test_no_random_request_is_a_fault(read_once, tmp_path, capsys):
    folder = tmp_path / "in" / "kart"
    shutil.copytree(read_once, folder)
    draw = random.Random(7)
    visit = Visit(folder)
    for at in range(REQUESTS):
        if at % 100 == 99:  # what random edits left is put right, so that pages are reached
            shutil.copytree(read_once, folder, dirs_exist_ok=True)
        path = draw.choice(PATHS).format(
            c=draw.choice(("this", "this", "this", quote(draw.choice(NAMES)))),
            p=draw.choice(("match-1", "match-1", quote(draw.choice(NAMES)))),
            n=draw.choice(("1", "1", "1", "0", "x", "2")),
        )
        count = draw.randrange(len(FIELDS))
        data = {name: draw.choice(VALUES) for name in draw.sample(FIELDS, count)}
        if draw.random() < 0.4:
            answer = visit.client.get(path, params=data if draw.random() < 0.3 else None)
        elif draw.random() < 0.1:
            body = draw.randbytes(draw.randrange(2000))
            kind = draw.choice(("multipart/form-data; boundary=x", "text/plain", "?", ""))
            headers = {**ORIGIN, "content-type": kind}
            answer = visit.client.post(path, content=body, headers=headers)
        else:
            files = {"file": ("a.csv", draw.randbytes(50))} if path.endswith("upload") else None
            answer = visit.post(path, data, files)
        assert answer.status_code < 500, (at, path, data)
        assert "Traceback" not in answer.text
    assert "Traceback" not in capsys.readouterr().err
    assert {p.name for p in (tmp_path / "in").iterdir()} == {"kart"}
    assert {p.name for p in tmp_path.iterdir()} == {"in"}


def test_the_examples_are_as_they_were():
    assert {p.name for p in (EXAMPLES / "kart_mm").iterdir()} == {"bag.csv", "job.toml"}
