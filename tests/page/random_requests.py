"""`python -m tests.page.random_requests N SEED`: random requests to every address of the page.

None may be answered by a fault, none may write outside the folder. Forms, uploads, paths and
headers are drawn; half of them are nearly right, so that what lies behind is reached.
"""

from __future__ import annotations

import io
import random
import re
import shutil
import sys
from collections import Counter
from contextlib import redirect_stderr
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch
from urllib.parse import quote

from optimizer.page.bag_book import new_book
from optimizer.page.works import Works
from tests.page.visit import ORIGIN, Visit

TABLE = "Drawer\n\nNo;Thick;Cone\nX1;0,9;0,48\nX2;0,91;0,47\nTotal;1,8;\n"
VALUES = (
    "", "1", "0", "-1", "2", "first", "settled", "895", "8,9", "0.9", "0.905", "sharp", "dressed",
    "A01", "add", "instead", "1e308", "nan", "9" * 30, "x" * 5000, "../../etc/passwd", "\0", "\n",
    "<b>", "{{ 7*7 }}", "';--", "\ud7ff", "é", "1\r\nx: y", '"', "a,b;c\td", "=1+1", "thickness",
    "thickness_mm", "disc", "match-1", "100", "max", "on",
)  # fmt: skip
#: every field of the forms, as it may rightly be filled in
RIGHT = {
    "disc": "N1", "thickness": "0.905", "height": "0.48", "edge": "sharp", "flat": "", "od": "20",
    "id": "10.2", "lot": "spring 2026", "note": "", "version": "none", "again": "1", "insist": "1",
    "field": "thickness", "line": "3", "how": "add", "round": "2", "shoe": "1", "kind": "settled",
    "load": "890", "answer": "keep", "rank": "1", "part": "step 1", "on": "1", "clear": "1",
    "name": "new", "units": "mm", "clutch.travel": "1.5", "was.clutch.travel": "1.5",
    "stack.shims": "0.1", "disc.od": "20", "target.load": "890", "mine": "1", "pasted": TABLE,
    "column.0": "disc", "column.1": "thickness_mm", "column.2": "cone_height_mm", "keep.6": "1",
    "all.edge": "sharp", "all.od_mm": "20", "all.id_mm": "10.2", "plan": "match-1", "by": "100",
    "rpm": "3300", "sets": "1", "fresh": "1", "confidence": "95", "catalog": "", "order": "x",
    "taken": "890",
}  # fmt: skip
NAMES = ("this", "match-1", "..", "", "%2e%2e", "é", "a" * 300, "page.js", "<b>", "none")
HEADERS = {
    "host": ("127.0.0.1", "evil.example:8700", "", "[::1]:8700", "x" * 500),
    "origin": ("null", "http://evil.example", "http://127.0.0.1:8700", "é"),
    "cookie": ("evenstack_8700=x", ";;==", "evenstack_8700=" + "x" * 3000),
    "content-type": ("multipart/form-data; boundary=x", "multipart/form-data", "text/plain", "?"),
    "content-length": ("0", "99999999999"),
    "x-page": ("1", "\t"),
    "range": ("bytes=0-1",),
}


def play(folder: Path, draw: random.Random, requests: int, fresh: Path) -> Counter[int]:
    """Send requests to the page of a folder, put right now and then from `fresh`.

    Returns how often each status was answered.
    """
    told: Counter[int] = Counter()
    visit = Visit(folder)
    routes = [r for r in visit.client.app.routes if not r.path.startswith("/news")]
    paths = [(r.path, "POST" if "POST" in r.methods else "GET") for r in routes]
    paths += [("/{name}/{clutch}", "GET")]
    word, err = "x", io.StringIO()
    # what is asked for is judged as ever, but nothing is worked on for minutes
    with patch.object(Works, "start", lambda *_: None), redirect_stderr(err):
        for at in range(requests):
            if at % 100 == 99:
                shutil.copytree(fresh, folder, dirs_exist_ok=True)
            path, method = draw.choice(paths)
            if draw.random() < 0.05:
                method = draw.choice(("GET", "POST", "HEAD", "PUT", "DELETE"))
            path = _filled(draw, path)
            answer = _sent(visit, draw, path, method, word)
            found = re.search(r'name="word" value="([^"]+)"', answer.text)
            word = found[1] if found else word
            assert answer.status_code < 500, (at, path, answer.text[-500:], err.getvalue()[-3000:])
            assert "Traceback" not in answer.text + err.getvalue(), (at, path)
            told[answer.status_code] += 1
    return told


def _filled(draw: random.Random, path: str) -> str:
    """An address with names in it, mostly such as there are."""
    right = {"clutch": "this", "plan": "match-1", "set": "1", "name": "page.css"}
    for key, name in right.items():
        wrong = quote(draw.choice((*NAMES, "0", "x", "2")))
        path = path.replace(f"{{{key}}}", name if draw.random() < 0.75 else wrong)
    return path


def _sent(visit: Visit, draw: random.Random, path: str, method: str, word: str):
    data = {name: right for name, right in RIGHT.items() if draw.random() < 0.7}
    if "answer" in data and draw.random() < 0.7:
        del data["answer"]
    for name in draw.sample(list(RIGHT), draw.choice((0, 0, 1, 3, 20))):
        data[name] = draw.choice(VALUES)
    data["word"] = word if draw.random() < 0.9 else draw.choice(VALUES)
    headers = dict(ORIGIN)
    if draw.random() < 0.1:
        name = draw.choice(list(HEADERS))
        headers[name] = draw.choice(HEADERS[name]).encode()
    if method != "POST":
        params = {name: data.get(name, "") for name in draw.sample(list(RIGHT), 3)}
        return visit.client.request(method, path, params=params, headers=headers)
    if draw.random() < 0.05:
        headers.setdefault("content-type", draw.choice(HEADERS["content-type"]))
        body = draw.randbytes(draw.randrange(2000))
        return visit.client.post(path, content=body, headers=headers)
    files = None
    if path.endswith("upload") and draw.random() < 0.7:
        files = {"file": (draw.choice(("a.csv", "a.xlsx", "../a.csv", "a", "")), _table(draw))}
        headers.pop("content-type", None)
    return visit.client.post(path, data=data, files=files, headers=headers)


def _table(draw: random.Random) -> bytes:
    """A table, whole or spoiled, or no table at all."""
    with TemporaryDirectory() as place:
        path = Path(place) / "a.xlsx"
        rows = [line.split(";") for line in TABLE.splitlines()]
        if draw.random() < 0.3:
            new_book(path, rows[2], rows[3:])
        else:
            path.write_text(TABLE)
        data = bytearray(path.read_bytes())
    for _ in range(draw.choice((0, 0, 1, 5, 50))):
        data[draw.randrange(len(data))] = draw.randrange(256)
    return draw.choice((bytes(data), bytes(data), draw.randbytes(50)))


def main() -> None:
    """Play so many requests on a clutch with a bag, a plan and a round of readings."""
    from tests.page.conftest import EXAMPLES, ROUND
    from tests.page.conftest import play as read

    requests, seed = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    with TemporaryDirectory() as place:
        fresh, folder = Path(place) / "fresh", Path(place) / "in" / "kart"
        shutil.copytree(EXAMPLES / "kart_mm", fresh)
        first = Visit(fresh)
        first.matched()
        read(first, ROUND)
        shutil.copytree(fresh, folder)
        told = play(folder, random.Random(seed), requests, fresh)
        outside = {p.name for p in Path(place).iterdir()} | {
            p.name for p in folder.parent.iterdir()
        }
        assert outside == {"fresh", "in", "kart"}, outside
    print(f"{requests} requests (seed {seed}): no fault, nothing written outside the folder")
    print(", ".join(f"{status}: {count}" for status, count in sorted(told.items())))


if __name__ == "__main__":
    main()
