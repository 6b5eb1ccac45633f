"""Tables that are brought: looked at first, nothing lost, and bombs and lies refused."""

import io
import re
import zipfile

import openpyxl

from tests.page.conftest import EXAMPLES

UPLOAD, PUT, COLUMNS = "/c/this/bag/upload", "/c/this/bag/put", "/c/this/bag/columns"
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
    assert "more.csv is in the bag." in kart.words
    assert path.read_text() == before + (
        "X1,20,10.2,0.905,0.48,sharp,,,\nX2,20,10.2,0.9,0.481,sharp,,,\n"
    )


def test_in_inches_it_is_added_in_the_unit_of_the_bag(kart):
    path = kart.house.folder.root / "bag.csv"
    head = HEAD.replace("_mm", "_in")
    bring(kart, "more.csv", head + "X1,0.7874,0.4016,0.0356,0.0189,sharp\n")
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert path.read_text().endswith("X1,20,10.2006,0.90424,0.48006,sharp,,,\n")


def test_rows_named_like_discs_of_the_bag_are_said_to_be_second_measurements(kart):
    """A list of somebody else begins with A01 too: other discs must not be merged in silence."""
    head = HEAD.replace("edge", "edge,flat_mm,lot")
    bring(kart, "more.csv", head + "A01,20,10.2,0.912,0.468,dressed,0.08,spring 2026\n")
    assert "A01 is in the bag already. Added, these rows count as a second" in kart.words
    bring(kart, "more.csv", HEAD + "X1,20,10.2,0.905,0.48,sharp\n")
    assert "in the bag already" not in kart.words


def test_a_pasted_table_with_a_slip_is_mended_where_it_stands(kart):
    slip = HEAD + "X1,20,10.2,0.905,0.48,sharp\nX2,20,10.2,0.9x,0.481,sharp\n"
    kart.post(UPLOAD, {"pasted": slip})
    assert "line 3, disc X2: Expected a number" in kart.words
    assert slip in kart.answer.text
    kart.post(UPLOAD, {"pasted": slip.replace("0.9x", "0.9")})
    assert "So it is read" in kart.words
    bring(kart, "more.csv", slip)
    assert "to mend it here" not in kart.words


def test_a_table_is_shown_in_its_own_unit_and_height(kart):
    """As it stands on the paper or screen that it is held against."""
    head = HEAD.replace("_mm", "_in").replace("cone_height", "height")
    bring(kart, "more.csv", head + "X1,0.7874,0.4016,0.0356,0.0545,sharp\n")
    assert "Overall Edge X1 0.0356 in 0.0545 in sharp" in kart.words


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
    assert "1 disc" in kart.words
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


MESSY = """Springs from the drawer, measured in May

No,Thick,Cone (mm),OD,ID,Shelf
X1,0.905,0.48,20,10.2,top
X2,0.9,0.481,20,10.2,top
Total,1.805,,,,
"""
LAYOUT = {
    "column.0": "disc", "column.1": "thickness_mm", "column.2": "cone_height_mm",
    "column.3": "od_mm", "column.4": "id_mm", "column.5": "note", "all.edge": "sharp",
}  # fmt: skip


def chosen(visit):
    """What the columns of the page are taken to hold."""
    return re.findall(r'<option value="([^"]*)" selected>', visit.answer.text)


def test_a_messy_table_is_guessed_shown_and_put_away_as_agreed(kart):
    folder = kart.house.folder.root
    before = (folder / "bag.csv").read_text()
    kart.post(UPLOAD, {"pasted": MESSY})
    assert chosen(kart) == ["disc", "thickness_mm", "cone_height_mm", "od_mm", "id_mm"]
    assert "Total 1.805: a total, or the like" in kart.words
    assert "Edge of all of them" in kart.words
    assert "So it is read" not in kart.words
    word = word_of(kart)
    kart.post(COLUMNS, {"word": word, **LAYOUT})
    assert "So it is read" in kart.words
    assert (folder / "bag.csv").read_text() == before
    kart.post(PUT, {"word": word, "how": "add"})
    assert kart.answer.status_code == 200, kart.words
    assert (folder / "bag.csv").read_text() == before + (
        "X1,20,10.2,0.905,0.48,sharp,,,top\nX2,20,10.2,0.9,0.481,sharp,,,top\n"
    )
    # and the next table of this folder is read so from the start
    kart.post(UPLOAD, {"pasted": MESSY.replace("X", "Y")})
    assert chosen(kart)[-1] == "note"


def test_a_total_is_a_disc_where_one_says_so(kart):
    kart.post(UPLOAD, {"pasted": MESSY})
    kart.post(COLUMNS, {"word": word_of(kart), **LAYOUT, "keep.6": "1"})
    assert kart.answer.status_code == 422
    assert "disc Total: Expected a number for cone_height_mm" in kart.words
    kart.post(COLUMNS, {"word": word_of(kart), **LAYOUT})
    assert "2 discs" in kart.words


def test_columns_without_sense_are_refused(kart):
    kart.post(UPLOAD, {"pasted": MESSY})
    word = word_of(kart)
    for wrong in ({"column.5": "thickness_in"}, {"column.5": "od_mm"}, {"column.5": "<b>"}):
        kart.post(COLUMNS, {"word": word, **LAYOUT, **wrong})
        assert kart.answer.status_code == 422
        assert "<b>" not in kart.answer.text.split("<h1>")[1]
    kart.post(COLUMNS, {"word": word, **LAYOUT, "column.1": ""})
    assert "Expected a column thickness" in kart.words
    kart.post(PUT, {"word": word, "how": "add"})
    assert kart.answer.status_code == 422
    kart.post(COLUMNS, {"word": "made-up", **LAYOUT})
    assert kart.answer.status_code == 422


def test_a_messy_workbook_without_names_or_diameters(kart):
    book = openpyxl.Workbook()
    for row in (["Drawer"], [], ["t (mm)", "h"], [0.905, 0.48], [0.9, 0.481], ["mean", None]):
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    bring(kart, "drawer.xlsx", data.getvalue())
    assert kart.answer.text.count('name="column.') == 2
    assert "No column has names" in kart.words
    sizes = {"all.od_mm": "20", "all.id_mm": "10.2", "all.edge": "sharp"}
    columns = {"column.0": "thickness_mm", "column.1": "cone_height_mm"}
    word = word_of(kart)
    kart.post(COLUMNS, {"word": word, **columns, **sizes})
    kart.post(PUT, {"word": word, "how": "add"})
    assert kart.answer.status_code == 200, kart.words
    rows = (kart.house.folder.root / "bag.csv").read_text().splitlines()
    assert rows[-2:] == ["B15,20,10.2,0.905,0.48,sharp,,,", "B16,20,10.2,0.9,0.481,sharp,,,"]


def test_what_was_agreed_and_spoiled_since_is_no_hindrance(kart):
    for spoiled in ("{", "[]", '{"schema": "evenstack.columns/1", "columns": 3}', "\0"):
        (kart.house.folder.root / "columns.json").write_text(spoiled)
        kart.post(UPLOAD, {"pasted": MESSY})
        assert chosen(kart)[1] == "thickness_mm"


def test_loads_of_discs_alone_are_added_in_the_unit_of_the_bag(kart):
    """1 lbf is 4.44822 N (exact by definition of the pound and of standard gravity)."""
    path = kart.house.folder.root / "bag.csv"
    head, *rows = path.read_text().splitlines()
    path.write_text("\n".join([f"{head},load_n,at_mm", *(f"{row},," for row in rows)]) + "\n")
    pressed = HEAD.strip() + ",load_lbf,at_in\nX1,20,10.2,0.905,0.48,sharp,47.6,0.008\n"
    bring(kart, "more.csv", pressed)
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().endswith("X1,20,10.2,0.905,0.48,sharp,,,,211.735,0.2032\n")


def test_loads_find_a_column_in_a_bag_that_has_none(kart):
    path = kart.house.folder.root / "bag.csv"
    bring(kart, "more.csv", HEAD.strip() + ",load_n,at_mm\nX1,20,10.2,0.905,0.48,sharp,212,0.2\n")
    kart.post(PUT, {"word": word_of(kart), "how": "add"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().splitlines()[0].endswith(",note,load_n,at_mm")
    assert path.read_text().endswith("X1,20,10.2,0.905,0.48,sharp,,,,212,0.2\n")
