from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from optimizer.model.bag import Disc
from optimizer.units import MM_PER_IN
from tests.io.bag.bags import HEADER, as_rows, bag_of, complaints, plain_job
from tests.io.job.files import SMALL, job_of

A01 = "A01,20,10.2,1.05,0.42,dressed,0.14,L1,first"
A02 = "A02,20,10.2,1.06,0.43,Sharp,,L1,"


def test_a_row_becomes_a_disc(tmp_path):
    bag = bag_of(tmp_path, A01, A02)
    assert bag.discs == (
        Disc("A01", 20, 10.2, 1.05, 0.42, "dressed", 0.14, "L1", "first", line=2),
        Disc("A02", 20, 10.2, 1.06, 0.43, "sharp", 0.0, "L1", line=3),
    )
    assert bag.warnings == ()


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (["notes", "of the spring"], ["more"], "first sheet, line 1: Expected a column disc"),
        (["notes", "of the spring"], [HEADER, A01], "found a bag on the sheet Second. Make that"),
        ([], [HEADER, A01], "Put the table on the first sheet"),
    ],
)
def test_of_a_workbook_it_is_said_that_its_first_sheet_was_read(tmp_path, first, second, said):
    """A book that begins with notes was told that its columns lack."""
    path = workbook(tmp_path, first, second)
    with pytest.raises(InputError, match=said):
        read_bag(path, plain_job(tmp_path))


def test_discs_on_a_second_sheet_are_not_passed_over_in_silence(tmp_path):
    bag = read_bag(workbook(tmp_path, [HEADER, A01, A02], [HEADER, A01]), plain_job(tmp_path))
    assert len(bag.discs) == 2
    assert "the sheet Second holds discs too and is not read" in bag.warnings[0]
    notes = workbook(tmp_path, [HEADER, A01, A02], ["", "bought in spring"])
    assert read_bag(notes, plain_job(tmp_path)).warnings == ()


def workbook(folder, *sheets):
    """A workbook with these rows on its sheets."""
    book, path = openpyxl.Workbook(), folder / "bag.xlsx"
    for sheet, rows in zip((book.active, book.create_sheet("Second")), sheets, strict=True):
        for row in rows:
            sheet.append(row.split(","))
    book.save(path)
    return path


def test_repeats_are_averaged_and_counted(tmp_path):
    again = "A01,,,1.053,0.426,dressed,,L1,again"
    bag = bag_of(tmp_path, A01, A02, again)
    assert [disc.repeats for disc in bag.discs] == [2, 1]
    assert bag.discs[0].thickness_mm == pytest.approx(1.0515)
    assert bag.discs[0].cone_height_mm == pytest.approx(0.423)
    assert bag.discs[0].note == "first; again"


def test_repeats_that_disagree_name_both_lines(tmp_path):
    said = complaints(tmp_path, A01, A02, A01.replace("1.05", "1.09"))
    assert len(said) == 1
    assert said[0].startswith("bag.csv line 4, disc A01")
    assert "line 2" in said[0]


def test_overall_height_is_converted_and_remembered(tmp_path):
    bag = bag_of(tmp_path, A01.replace("0.42", "1.47"), header=HEADER.replace("cone_", ""))
    assert bag.discs[0].cone_height_mm == pytest.approx(0.42)
    assert bag.discs[0].from_overall_height


def test_diameters_and_flat_come_from_the_job_where_the_bag_is_silent(tmp_path):
    bag = bag_of(
        tmp_path,
        "A01,1.05,0.42,dressed",
        "A02,1.05,0.42,sharp",
        header="disc,thickness_mm,cone_height_mm,edge",
        od_mm=20.0,
        id_mm=10.2,
        default_flat_mm=0.2,
    )
    first, second = bag.discs
    assert (first.od_mm, first.id_mm, first.flat_mm, first.flat_assumed) == (20, 10.2, 0.2, True)
    assert (second.flat_mm, second.flat_assumed) == (0.0, False)
    assert len(bag.warnings) == 1
    assert "1 dressed disc has no measured flat; 0.200 mm" in bag.warnings[0]


def test_every_problem_of_a_bag_is_listed_at_once(tmp_path):
    said = complaints(
        tmp_path,
        A01.replace("1.05", "-1"),
        A02.replace("Sharp", "blunt"),
        "A03,10.2,20,1.05,0.42,sharp,,,",
        "A04,20,10.2,x,y,sharp,,,",
    )
    assert [line.split(",")[0] for line in said] == [
        "bag.csv line 2",
        "bag.csv line 3",
        "bag.csv line 5",
        "bag.csv line 5",
        "bag.csv line 4",
    ]


def test_names_the_job_asks_for_must_be_there(tmp_path):
    path = tmp_path / "bag.csv"
    path.write_text("\n".join((HEADER, A01, A02)))
    job = job_of(tmp_path, SMALL + '[stack]\nuse = ["A01"]\nleave = ["A2"]\n')
    with pytest.raises(InputError, match=r'got "A2"\. Did you mean A02'):
        read_bag(path, job)


def test_unknown_columns_are_passed_over_with_a_warning(tmp_path):
    bag = bag_of(tmp_path, f"{A01},blue", header=f"{HEADER},colour")
    assert bag.warnings == ("bag.csv line 1: the column 'colour' is not used.",)


def test_workbook_with_numbers_and_text(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(HEADER.split(","))
    sheet.append([7, 20, 10.2, 1.05, 0.42, "dressed", 0.14, "L1", None])
    sheet.append([])
    sheet.append([8, "20", "10,2", "1,06", 0.43, "sharp", None, None, "text"])
    path = tmp_path / "bag.xlsx"
    book.save(path)
    bag = read_bag(path, plain_job(tmp_path))
    assert [(disc.name, disc.thickness_mm, disc.line) for disc in bag.discs] == [
        ("7", 1.05, 2),
        ("8", 1.06, 4),
    ]


lengths = st.floats
discs = st.builds(
    Disc,
    name=st.just(""),
    od_mm=lengths(19.8, 20.0),
    id_mm=lengths(10.2, 10.4),
    thickness_mm=lengths(0.7, 1.2),
    cone_height_mm=lengths(0.3, 0.6),
    edge=st.just("dressed"),
    flat_mm=lengths(0.08, 0.3),  # four times as wide would look like a decimal slip
    lot=st.sampled_from(["", "L1"]),
    note=st.sampled_from(["", "invented"]),
)


@given(
    drawn=st.lists(discs, min_size=1, max_size=12),
    sharp=st.sets(st.integers(0, 11)),
    unit=st.sampled_from(["mm", "in"]),
    layout=st.sampled_from([(",", False), (";", True), (";", False), ("\t", True)]),
    overall=st.booleans(),
)
def test_a_bag_in_any_unit_and_layout_reads_back_the_same(drawn, sharp, unit, layout, overall):
    bag = [
        replace(
            disc,
            name=f"D{n}",
            edge="sharp" if n in sharp else "dressed",
            flat_mm=0.0 if n in sharp else disc.flat_mm,
        )
        for n, disc in enumerate(drawn)
    ]
    separator, comma = layout
    header = HEADER.replace("_mm", f"_{unit}").replace("cone_", "" if overall else "cone_")
    rows = as_rows(bag, 1.0 if unit == "mm" else MM_PER_IN, separator, comma, overall)
    with TemporaryDirectory() as folder:
        read = bag_of(Path(folder), *rows, header=header.replace(",", separator))
    for before, after in zip(bag, read.discs, strict=True):
        assert (after.name, after.edge, after.lot, after.note) == (
            before.name,
            before.edge,
            before.lot,
            before.note,
        )
        for field in ("od_mm", "id_mm", "thickness_mm", "cone_height_mm", "flat_mm"):
            assert getattr(after, field) == pytest.approx(getattr(before, field), abs=1e-6)


def test_an_edge_radius_that_no_disc_has_is_refused(tmp_path):
    header = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge,edge_radius_mm"
    (wide,) = complaints(tmp_path, "A01,20,10.2,1.05,0.42,sharp,0.6", header=header)
    assert "Expected an edge radius below half the thickness, got 0.6 mm on 1.05 mm" in wide
    (flat,) = complaints(tmp_path, "A01,20,10.2,1.05,0.42,dressed,0.2", header=header)
    assert "Expected no edge radius on a dressed disc, got 0.2 mm" in flat
