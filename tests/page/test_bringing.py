"""Tables that are brought: looked at first, nothing lost, and bombs and lies refused."""

import io
import zipfile

import openpyxl

from tests.page.conftest import EXAMPLES

UPLOAD, PUT = "/c/this/bag/upload", "/c/this/bag/put"
HEAD = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge\n"


def word_of(visit):
    return visit.answer.text.split('name="word" value="')[1].split('"')[0]


def bring(visit, name, data):
    return visit.post(UPLOAD, files={"file": (name, data)})


def test_a_table_is_looked_at_and_then_added(kart):
    path = kart.house.folder.root / "bag.csv"
    before = path.read_text()
    bring(kart, "more.csv", HEAD + "X1,20,10.2,0.905,0.48,sharp\nX2,20,10.2,0.9,0.481,sharp\n")
    assert "2 discs" in kart.words
    assert path.read_text() == before
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert kart.answer.status_code == 200
    assert path.read_text() == before + (
        "X1,20,10.2,0.905,0.48,sharp,,,\nX2,20,10.2,0.9,0.481,sharp,,,\n"
    )


def test_in_inches_it_is_added_in_the_unit_of_the_bag(kart):
    path = kart.house.folder.root / "bag.csv"
    head = HEAD.replace("_mm", "_in")
    bring(kart, "more.csv", head + "X1,0.7874,0.4016,0.0356,0.0189,sharp\n")
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert path.read_text().endswith("X1,20,10.2006,0.90424,0.48006,sharp,,,\n")


def test_in_place_of_the_bag_keeps_what_it_held(kart):
    path = kart.house.folder.root / "bag.csv"
    before = path.read_bytes()
    data = EXAMPLES.joinpath("kart_mm", "bag.csv").read_text().replace("A0", "Z0")
    bring(kart, "other.csv", data)
    kart.post(PUT, {"word": word_of(kart), "how": "instead"})
    assert path.read_text() == data
    assert path.with_name("bag-before-1.csv").read_bytes() == before


def test_a_workbook_is_read(kart):
    book = openpyxl.Workbook()
    for row in ([*HEAD.strip().split(",")], ["W1", 20, 10.2, 0.905, 0.48, "sharp"]):
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    bring(kart, "more.xlsx", data.getvalue())
    assert "1 discs" in kart.words
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert "W1,20,10.2,0.905,0.48,sharp" in (kart.house.folder.root / "bag.csv").read_text()


def bomb():
    """A workbook that unpacks to a hundred megabytes."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 100_000_000)
    return data.getvalue()


def test_a_bomb_is_refused_unopened(kart):
    data = bomb()
    assert len(data) < 200_000
    bring(kart, "bomb.xlsx", data)
    assert kart.answer.status_code == 422
    assert "Expected at most 60 MB of table" in kart.words


def test_too_many_rows_and_bytes_are_refused(kart):
    bring(kart, "long.csv", HEAD + "X,20,10.2,0.9,0.48,sharp\n" * 20_001)
    assert kart.answer.status_code == 422
    assert "Expected at most 20000 rows" in kart.words
    bring(kart, "large.csv", b"x" * 10_600_000)
    assert kart.answer.status_code == 413


def test_what_is_no_table_is_told_so(kart):
    for name, data in (
        ("a.xlsx", b"PK\x03\x04 no workbook"),
        ("a.csv", b"\x00\xff"),
        ("a.csv", b""),
        ("a.exe", b"MZ"),
        ("", b"x"),
        ("a.csv", HEAD.encode()),
        ("a.csv", (HEAD + "X1,20,10.2,9,0.48,blunt\n").encode()),
    ):
        bring(kart, name, data)
        assert kart.answer.status_code == 422, (name, kart.words)
        assert "fault of the program" not in kart.words


def test_the_name_of_a_file_is_no_path_and_no_page(kart, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    evil = "../../<img src=x onerror=alert(1)>.csv"
    bring(kart, evil, HEAD + "X1,20,10.2,0.905,0.48,sharp\n")
    assert "<img" not in kart.answer.text
    assert sorted(tmp_path.rglob("*")) == before


def test_a_table_is_put_away_once_and_only_by_its_word(kart):
    kart.post(PUT, {"word": "made-up", "how": "add"})
    assert kart.answer.status_code == 422
    bring(kart, "more.csv", HEAD + "X1,20,10.2,0.905,0.48,sharp\n")
    word = word_of(kart)
    kart.post(PUT, {"word": word, "how": "add"})
    kart.post(PUT, {"word": word, "how": "add"})
    assert kart.answer.status_code == 422
    assert (kart.house.folder.root / "bag.csv").read_text().count("X1,") == 1
