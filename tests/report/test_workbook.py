import zipfile
from io import BytesIO

import openpyxl
import pytest

from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from optimizer.io.readings import read_readings
from optimizer.report.workbook import workbook
from optimizer.report.workbook_style import harmless
from optimizer.units import N_PER_LBF
from tests.report.plans import DAY, WICKED, dealt


def book_of(**how):
    plan, work = dealt(**how)
    return plan, work, openpyxl.load_workbook(BytesIO(workbook(plan, work, DAY)))


def table(sheet):
    head, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def test_control_characters_become_blanks():
    assert harmless("a\x00b\x0bc") == "a b c"
    assert harmless("\x00=1") == " =1"


def test_no_cell_is_a_formula_whatever_the_names_say():
    plan, _, book = book_of(wicked=True)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    words = [cell for cell in cells if isinstance(cell.value, str)]
    assert set(WICKED[1:4]) <= {cell.value for cell in words}  # as they were written
    assert plan.sets[0].stacks[0].packets[0][0] in WICKED  # they are in stacks, not only left


def test_every_disc_of_the_bag_has_its_place():
    plan, work, book = book_of(sets=2)
    rows = {row["disc"]: row for row in table(book["Bag"])}
    assert list(rows) == [disc.name for disc in work.bag.discs]
    for number, one in enumerate(plan.sets, 1):
        for stack in one.stacks:
            for packet, names in enumerate(stack.packets, 1):
                for name in names:
                    assert (rows[name]["set"], rows[name]["shoe"]) == (number, stack.shoe)
                    assert rows[name]["packet"] == packet
    assert {name for name, row in rows.items() if row["went to"] == "bag"} == set(plan.unused)


def test_stacks_are_listed_from_the_bottom():
    plan, _, book = book_of()
    rows = [row for row in table(book["Stacks"]) if row["shoe"] == 2]
    flat = [name for packet in plan.sets[0].stacks[1].packets for name in packet]
    assert [row["disc"] for row in rows] == flat
    assert [row["place"] for row in rows] == list(range(1, len(flat) + 1))
    assert [row["outer edge"] for row in rows[:3]] == ["down", "down", "up"]


def test_loads_are_numbers_in_the_users_unit():
    plan, _, book = book_of(units="in")
    first = table(book["Loads"])[0]
    stack = plan.sets[0].stacks[0]
    assert first["working_lbf"] == pytest.approx(stack.working_load_n / N_PER_LBF, abs=0.005)
    assert first["free_height_in"] == pytest.approx(stack.free_height_mm / 25.4, abs=1e-5)


def test_the_bag_page_is_a_bag(tmp_path):
    """A shop that saves the page on its own can start the next job from it."""
    _, work, book = book_of()
    for name in book.sheetnames:
        if name != "Bag":
            del book[name]
    path = tmp_path / "bag.xlsx"
    book.save(path)
    back = read_bag(path, work.job)
    for disc, was in zip(back.discs, work.bag.discs, strict=True):
        assert (disc.name, disc.edge) == (was.name, was.edge)
        assert disc.thickness_mm == pytest.approx(was.thickness_mm, abs=1e-4)
        assert disc.cone_height_mm == pytest.approx(was.cone_height_mm, abs=1e-4)


def test_the_filled_in_form_is_read_as_readings(tmp_path):
    plan, work, book = book_of()
    form = book.worksheets[0]
    assert form.title == "Readings"
    for row in range(2, form.max_row + 1):
        form.cell(row, 6).value = 880 + row
    path = tmp_path / "filled.xlsx"
    book.save(path)
    planned = {stack.shoe: stack.packets for stack in plan.sets[0].stacks}
    read = read_readings(path, work.belief.names, 3, planned).rows
    assert [(r.shoe, r.kind) for r in read] == [
        (shoe, kind) for shoe in (1, 2, 3) for kind in ("first", "settled")
    ]
    assert all(r.packs == planned[r.shoe] for r in read)
    assert read[0].load_n == 882


def test_readings_of_every_set_are_asked_for_and_each_set_reads_its_own(tmp_path):
    plan, work, book = book_of(sets=2)
    form = book["Readings"]
    assert [row["set"] for row in table(form)] == [1] * 6 + [2] * 6
    for row in range(2, form.max_row + 1):
        form.cell(row, 6).value = 880 + row
    path = tmp_path / "filled.xlsx"
    book.save(path)
    for number, one in enumerate(plan.sets, 1):
        planned = {stack.shoe: stack.packets for stack in one.stacks}
        read = read_readings(path, work.belief.names, 3, planned, number)
        assert [r.load_n for r in read.rows] == [880 + 6 * (number - 1) + k for k in range(2, 8)]
        assert all(r.packs == planned[r.shoe] for r in read.rows)
        assert read.warnings == ()
    with pytest.raises(InputError, match="Expected readings of set 3, found those of 1, 2"):
        read_readings(path, work.belief.names, 3, planned, 3)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_slip_is_asked_about_and_a_believable_load_is_not(units):
    plan, _, book = book_of(units=units)
    form = book["Readings"]
    (asked,) = form.data_validations.dataValidation
    assert str(asked.sqref) == f"F2:F{form.max_row}"
    assert (asked.formula1, asked.formula2, asked.errorStyle) == ("$G2", "$H2", "warning")
    rules = [rule for rules in form.conditional_formatting for rule in rules.rules]
    assert ["$F2<$G2" in rule.formula[0] for rule in rules] == [True]
    unit = 1.0 if units == "mm" else N_PER_LBF
    for row in table(form):
        low, high = (
            row[f"likely_{end}_{'n' if units == 'mm' else 'lbf'}"] for end in ("from", "to")
        )
        load = plan.sets[0].stacks[row["shoe"] - 1].working_load_n / unit
        assert low < load < high
        assert not low < 10 * load < high
        assert not low < load / 10 < high
        assert not low < load * (N_PER_LBF if units == "in" else 1 / N_PER_LBF) < high


def test_pages_filter_repeat_their_heads_on_paper_and_show_fixed_decimals():
    _, _, book = book_of(sets=2, shims_mm=(0.2, 0.1), installed_mm=11.7)
    for sheet in book:
        assert sheet.auto_filter.ref == sheet.dimensions
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.freeze_panes == "A2"
        assert all(cell.font.bold and cell.fill.fgColor.rgb == "FFE3ECEC" for cell in sheet[1])
    loads = table(book["Loads"])[0]
    assert (loads["shims_mm"], loads["shim 1_mm"], loads["shim 2_mm"]) == (0.3, 0.2, 0.1)
    shown = {
        head.value: cell.number_format for head, cell in zip(*book["Loads"]["1:2"], strict=True)
    }
    assert shown["shims_mm"] == shown["shim 1_mm"] == shown["free_height_mm"] == "0.000"
    assert shown["working_n"] == "0.0"
    assert shown["rate_n_per_mm"] == "0"


def test_no_clock_is_in_the_workbook():
    plan, work = dealt()
    archive = zipfile.ZipFile(BytesIO(workbook(plan, work, DAY)))
    assert {entry.date_time[:3] for entry in archive.infolist()} == {(DAY.year, DAY.month, DAY.day)}
    core = archive.read("docProps/core.xml").decode()
    assert core.count(f"{DAY.isoformat()}T00:00:00Z") == 2
