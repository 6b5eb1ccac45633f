"""A bag typed on the page: judged, put away in one step, and what is there left as it is."""

import re

import openpyxl
import pytest

from optimizer.page.bag_book import new_book
from tests.page.test_bringing import HEAD, word_of
from tests.page.visit import Visit

BAG = "/c/this/bag"
DISC = {"disc": "C01", "thickness": "0.905", "height": "0.480", "edge": "sharp"}
SIZE = {"od": "20.0", "id": "10.2"}


def bag_of(visit):
    return (visit.house.folder.root / "bag.csv").read_text(encoding="utf-8")


def test_a_disc_is_put_at_the_end_and_all_else_stays(kart):
    before = bag_of(kart)
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "lot": "new", "note": "invented"})
    assert kart.answer.status_code == 200
    assert "C01 is in the bag." in kart.words
    assert bag_of(kart) == before + "C01,20.0,10.2,0.905,0.480,sharp,,new,invented\n"


def test_the_next_free_name_is_given(kart):
    kart.get(BAG)
    assert 'value="B15"' in kart.answer.text
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "B15"})
    assert 'value="B16"' in kart.answer.text


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"thickness": "9.05"}, "Look for the decimal point"),
        ({"thickness": "0.0356"}, "This looks typed in inches: the bag is in mm."),
        ({"thickness": "0.0356", "height": "0.0189"}, "This looks typed in inches"),
        ({"height": "1.385"}, "looks like the overall height"),
        ({"thickness": "x"}, "Expected a number"),
        ({"thickness": ""}, "Expected a number"),
        ({"disc": "C 1"}, "without spaces"),
        ({"flat": "0.1"}, "Expected no flat on a sharp disc"),
        ({"thickness": "1,905,2"}, "one decimal mark"),
    ],
)
def test_a_slip_is_told_and_not_put_away(kart, typed, told):
    before = bag_of(kart)
    kart.post(f"{BAG}/add", {**DISC, **SIZE, **typed})
    assert kart.answer.status_code == 422
    assert kart.words.count(told) == 1
    assert bag_of(kart) == before
    for value in typed.values():
        assert value in kart.answer.text


def test_a_disc_far_from_its_lot_is_asked_about_once(kart):
    odd = {**DISC, **SIZE, "height": "0.60", "lot": "spring 2026"}
    kart.post(f"{BAG}/add", odd)
    assert kart.answer.status_code == 422
    assert "measure it again" in kart.words
    kart.post(f"{BAG}/add", {**odd, "insist": "1"})
    assert "C01,20.0,10.2,0.905,0.60,sharp" in bag_of(kart)


def test_each_value_is_judged_while_the_disc_is_in_the_hand(kart):
    kart.post(f"{BAG}/look", {"disc": "C01", "field": "thickness", "thickness": "9.05"})
    assert "decimal point" in kart.answer.json()["problems"][0]
    kart.post(f"{BAG}/look", {"disc": "C01", "field": "thickness", "thickness": "0.905"})
    assert kart.answer.json() == {"problems": [], "warnings": []}
    kart.post(f"{BAG}/look", {"disc": "C01", "field": "height", "height": "zero"})
    assert "no number" in kart.answer.json()["problems"][0]


def test_a_name_that_is_there_is_a_second_measurement_only_when_said(kart):
    again = {**DISC, **SIZE, "disc": "A01", "thickness": "0.911", "height": "0.469"}
    again |= {"edge": "dressed", "flat": "0.08", "lot": "spring 2026"}
    kart.post(f"{BAG}/add", again)
    assert kart.answer.status_code == 409
    assert "A01 is already in the bag" in kart.words
    kart.post(f"{BAG}/add", {**again, "again": "1"})
    assert bag_of(kart).endswith("A01,20.0,10.2,0.911,0.469,dressed,0.08,spring 2026,\n")


def test_a_radius_is_asked_for_where_the_bag_has_its_column(kart):
    path = kart.house.folder.root / "bag.csv"
    rows = path.read_text().splitlines()
    path.write_text("\n".join([f"{rows[0]},edge_radius_mm", *(f"{r}," for r in rows[1:])]) + "\n")
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "edge_radius": "0.05"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().endswith("C01,20.0,10.2,0.905,0.480,sharp,,,,0.05\n")


def test_a_disc_is_measured_once_more_by_its_name(kart):
    kart.get(f"{BAG}?again=A01")
    assert "A01 once more" in kart.words
    assert 'name="again" value="1"' in kart.answer.text
    assert re.search(r'name="flat" value="0.08"', kart.answer.text)
    kart.get(f"{BAG}?again=nobody")
    assert "Next disc" in kart.words


def test_of_two_devices_the_second_is_told_and_nothing_is_lost(kart):
    kart.get(BAG)
    seen = kart.answer.text.split('name="version" value="')[1].split('"')[0]
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "version": seen})
    late = {**DISC, **SIZE, "thickness": "0.899", "version": seen}
    kart.post(f"{BAG}/add", late)
    assert kart.answer.status_code == 409
    assert "meanwhile" in kart.words
    assert 'value="0.899"' in kart.answer.text
    assert bag_of(kart).count("C01") == 1


def test_a_row_is_taken_out_and_only_if_it_is_the_one_that_was_seen(kart):
    before = bag_of(kart).splitlines()
    kart.post(f"{BAG}/remove", {"line": "3", "disc": "A02"})
    assert bag_of(kart).splitlines() == before[:2] + before[3:]
    assert 'value="A02"' in kart.answer.text
    assert f'value="{before[2].split(",")[3]}"' in kart.answer.text
    kart.post(f"{BAG}/remove", {"line": "3", "disc": "A02"})
    assert kart.answer.status_code == 422
    assert bag_of(kart).splitlines() == before[:2] + before[3:]


def test_the_newest_discs_are_listed_and_all_on_demand(kart):
    kart.get(BAG)
    assert "Measure B14 once more" in kart.answer.text
    assert "Measure A01 once more" not in kart.answer.text
    assert 'href="/c/this/bag?all=1"' in kart.answer.text
    kart.get(f"{BAG}?all=1")
    assert "Measure A01 once more" in kart.answer.text
    assert "?all=1" not in kart.answer.text


def test_columns_separator_and_line_ends_of_a_person_stay(kart):
    path = kart.house.folder.root / "bag.csv"
    own = "note;edge;disc;height_mm;thickness_mm\r\nmine;sharp;1;1,38;0,90\r\n"
    path.write_bytes(own.encode())
    job = kart.house.folder.root / "job.toml"
    job.write_text(job.read_text() + "\n[disc]\nod_mm = 20\nid_mm = 10.2\n")
    kart.post(f"{BAG}/add", {"disc": "2", "thickness": "0,91", "height": "1,39", "edge": "sharp"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_bytes() == own.encode() + b";sharp;2;1,39;0,91\r\n"


def test_what_is_typed_is_shown_and_never_run(kart):
    evil = '<script>alert(1)</script>"><img src=x onerror=alert(1)>'
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "E1", "note": evil[:60]})
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": evil[:60]})
    assert "<script>alert" not in kart.answer.text
    assert "<img" not in kart.answer.text
    kart.get(f"{BAG}?put={evil}")
    assert "<script>alert" not in kart.answer.text


def test_a_file_that_is_no_bag_is_told_with_its_remedy(kart):
    path = kart.house.folder.root / "bag.csv"
    path.write_bytes(b"\x00\x01\x02")
    assert kart.get(BAG).status_code == 422
    assert "binary" in kart.words
    path.unlink()
    assert kart.get(BAG).status_code == 422
    assert "found none" in kart.words


def test_an_empty_bag_can_be_begun(tmp_path):
    from tests.page.test_setting_up import made

    folder = made(tmp_path)
    visit = Visit(folder)
    first = {"disc": "A01", "thickness": "0.9", "height": "1.38", "edge": "sharp", **SIZE}
    visit.post(f"{BAG}/add", first)
    assert visit.answer.status_code == 200, visit.words
    assert (folder / "bag.csv").read_text().splitlines()[1:] == ["A01,20.0,10.2,0.9,1.38,sharp,,,,"]


@pytest.fixture
def booked(kart):
    """A visit to a clutch whose bag is a workbook."""
    folder = kart.house.folder.root
    rows = [row.split(",") for row in bag_of(kart).splitlines()]
    new_book(folder / "bag.xlsx", rows[0], rows[1:])
    (folder / "job.toml").write_text((folder / "job.toml").read_text().replace(".csv", ".xlsx"))
    return kart, folder / "bag.xlsx"


def sheet(path):
    return [list(row) for row in openpyxl.load_workbook(path).worksheets[0].values]


def test_discs_are_typed_into_a_workbook_and_its_looks_stay(booked):
    visit, path = booked
    book = openpyxl.load_workbook(path)
    book.worksheets[0]["A1"].font = openpyxl.styles.Font(bold=True)
    book.create_sheet("mine")["B2"] = "kept"
    book.save(path)
    before = sheet(path)
    visit.post(f"{BAG}/add", {**DISC, **SIZE, "thickness": "0,905"})
    assert visit.answer.status_code == 200, visit.words
    assert sheet(path) == [*before, ["C01", 20, 10.2, 0.905, 0.48, "sharp", None, None, None]]
    visit.post(f"{BAG}/remove", {"line": "3", "disc": "A02"})
    assert [row[0] for row in sheet(path)[1:4]] == ["A01", "A03", "A04"]
    after = openpyxl.load_workbook(path)
    assert after.worksheets[0]["A1"].font.bold
    assert after["mine"]["B2"].value == "kept"
    visit.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "C02", "thickness": "9.05"})
    assert "Look for the decimal point" in visit.words


def test_a_table_is_added_to_a_workbook_or_put_in_its_place(booked):
    visit, path = booked
    before = sheet(path)
    row = "007,20,10.2,0.905,0.48,sharp\n"
    visit.post(f"{BAG}/upload", {"pasted": HEAD + row})
    visit.post(f"{BAG}/put", {"word": word_of(visit), "how": "add"})
    assert visit.answer.status_code == 200, visit.words
    after = [*before, ["007", 20, 10.2, 0.905, 0.48, "sharp", None, None, None]]
    assert sheet(path) == after
    visit.post(f"{BAG}/upload", {"pasted": HEAD + row})
    visit.post(f"{BAG}/put", {"word": word_of(visit), "how": "instead"})
    assert sheet(path) == [HEAD.strip().split(","), ["007", 20, 10.2, 0.905, 0.48, "sharp"]]
    assert sheet(path.with_name("bag-before-1.xlsx")) == after


def test_what_a_workbook_would_lose_is_not_written(booked):
    visit, path = booked
    book = openpyxl.load_workbook(path)
    book.create_sheet("sums")["A1"] = "=SUM(bag!D2:D9)"
    book.save(path)
    before = path.read_bytes()
    visit.post(f"{BAG}/add", {**DISC, **SIZE})
    assert visit.answer.status_code == 422
    assert "with formulas" in visit.words
    assert path.read_bytes() == before


PRESSED = {"load": "212", "at": "0.20"}


def test_a_load_of_the_disc_alone_is_asked_for_and_gets_its_columns(kart):
    kart.get(BAG)
    assert "Load of this disc alone, N" in kart.words
    before = bag_of(kart).splitlines()
    kart.post(f"{BAG}/add", {**DISC, **SIZE, **PRESSED})
    assert kart.answer.status_code == 200, kart.words
    head, *rows, last = bag_of(kart).splitlines()
    assert head == before[0] + ",load_n,at_mm"
    assert rows == before[1:]
    assert last == "C01,20.0,10.2,0.905,0.480,sharp,,,,212,0.20"
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "C02", "load": "212"})
    assert kart.answer.status_code == 422
    assert "Expected at beside load" in kart.words


def test_a_row_that_is_mended_keeps_its_load_and_columns_of_a_persons_own(kart):
    path = kart.house.folder.root / "bag.csv"
    head, first, *rows = path.read_text().splitlines()
    own = [f"{head},load_n,at_mm,shelf", f"{first},212,0.20,upper left", *(f"{r},,," for r in rows)]
    path.write_text("\n".join(own) + "\n")
    kart.post(f"{BAG}/remove", {"line": "2", "disc": "A01"})
    back = dict(re.findall(r'<input id="f-[^"]+" name="([^"]+)" value="([^"]*)"', kart.answer.text))
    assert back["load"] == "212"
    assert "shelf" in kart.words
    kart.post(f"{BAG}/add", {**back, "edge": "dressed", "insist": "1"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().splitlines()[-1] == own[1]


def test_a_gauge_and_no_micrometer_is_enough(kart):
    job = kart.house.folder.root / "job.toml"
    size = "od_mm = 20\nid_mm = 10.2\nthickness_mm = 0.9\ncone_height_mm = 0.48\n"
    job.write_text(job.read_text() + f"\n[disc]\n{size}")
    path = kart.house.folder.root / "bag.csv"
    path.write_text("disc,edge,load_lbf,at_in\nA01,sharp,47.2,0.008\n")
    kart.get(BAG)
    assert kart.answer.status_code == 200, kart.words
    assert "Load of this disc alone, lbf" in kart.words
    kart.post(f"{BAG}/add", {"disc": "A02", "edge": "sharp", "load": "48", "at": "0.008"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().splitlines()[-1] == "A02,sharp,48,0.008"
    kart.post(f"{BAG}/add", {"disc": "A03", "edge": "sharp", "thickness": "0.0356"})
    assert kart.answer.status_code == 200, kart.words
    assert path.read_text().startswith("disc,edge,load_lbf,at_in,thickness_in\n")


def test_a_load_is_typed_into_a_workbook_as_a_number(booked):
    visit, path = booked
    visit.post(f"{BAG}/add", {**DISC, **SIZE, **PRESSED})
    assert visit.answer.status_code == 200, visit.words
    assert sheet(path)[0][-2:] == ["load_n", "at_mm"]
    assert sheet(path)[-1][-2:] == [212, 0.2]
