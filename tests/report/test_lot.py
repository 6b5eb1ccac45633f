"""Many sets: one list of them all, labels for their bags, charts of those alone that differ."""

import re
from dataclasses import replace
from functools import cache

from optimizer.report.lot import MOST_DRAWN, differing
from optimizer.report.page import SETS_A_PAGE, sheet_files
from tests.report.html_checks import read_html
from tests.report.plans import DAY, dealt

SETS = SETS_A_PAGE + 2


@cache
def lot():
    """A dealt lot whose third set is told apart on a worn drum, and whose others are not."""
    plan, work = dealt(sets=SETS)
    even = [replace(s, rest_spread_n=1.0, spread_n=1.0, worn_spread_n=1.0) for s in plan.sets]
    even[2] = replace(even[2], worn_spread_n=plan.spread_tolerance_n + 1)
    return replace(plan, sets=tuple(even)), work


def pages(tmp_path):
    plan, work = lot()
    files = sheet_files(tmp_path / "sheet.html", plan, work, DAY)
    assert [path.name for path in files] == ["sheet.html", "sheet-labels.html"]
    return [read_html(page) for page in files.values()]


def test_a_lot_is_one_file_with_a_box_a_stack_and_every_disc_under_its_set(tmp_path):
    plan, _ = lot()
    (root, faults), _ = pages(tmp_path)
    assert faults == []
    boxes = [e.get("aria-label") for e in root.all("input")]
    assert boxes == [f"set {n}, shoe {k} built" for n in range(1, SETS + 1) for k in (1, 2, 3)]
    rows = [e for e in root.all("tr") if e.all("input")]
    told = [[cell.words().strip() for cell in row.children] for row in rows]
    stacks = [stack for one in plan.sets for stack in one.stacks]
    for row, stack in zip(told, stacks, strict=True):
        assert row[3].split() == ["+".join(packet) for packet in stack.packets]
        low, high = (float(part) for part in row[4].split(" to "))
        assert low < stack.free_height_mm < high
    assert [row[0] for row in told[::3]] == [str(n) for n in range(1, SETS + 1)]


def test_charts_are_of_the_set_that_differs_and_of_no_other(tmp_path):
    plan, _ = lot()
    (root, _), _ = pages(tmp_path)
    assert differing(plan) == [3]
    charts = [e for e in root.all("svg") if (e.get("aria-labelledby") or "").startswith("d")]
    assert len(charts) == len(plan.sets[2].stacks)
    assert " ".join(root.words().split()).count("1 set differs by more than 8.9 N") == 1
    assert "Set 3: 1.0 N at rest, 1.0 N at the travel, 9.9 N worn" in root.words()


def test_of_many_that_differ_a_few_are_drawn_and_all_are_named(tmp_path):
    plan, work = lot()
    wide = replace(plan.sets[2], worn_spread_n=99.0)
    many = replace(plan, sets=(wide,) * SETS)
    page, _ = sheet_files(tmp_path / "sheet.html", many, work, DAY).values()
    root, _ = read_html(page)
    charts = [e for e in root.all("svg") if (e.get("aria-labelledby") or "").startswith("d")]
    assert len(charts) == 3 * MOST_DRAWN
    assert f"worn: {', '.join(str(n) for n in range(1, SETS + 1))}" in " ".join(
        root.words().split()
    )


def test_every_stack_has_a_label_with_its_discs_and_bands(tmp_path):
    plan, _ = lot()
    _, (root, faults) = pages(tmp_path)
    assert faults == []
    labels = [" ".join(e.words().split()) for e in root.all("div")]
    stacks = [(n, s) for n, one in enumerate(plan.sets, 1) for s in one.stacks]
    assert len(labels) == len(stacks)
    for label, (number, stack) in zip(labels, stacks, strict=True):
        discs = " ".join("+".join(packet) for packet in stack.packets)
        assert label.startswith(f"Set {number}, shoe {stack.shoe}{discs}")
        assert re.search(r"free [\d.]+ to [\d.]+ mm; read \d+ to \d+ N$", label)


def test_a_few_sets_have_a_page_each_and_labels_beside(tmp_path):
    plan, work = dealt(sets=2)
    files = sheet_files(tmp_path / "mine.html", plan, work, DAY)
    assert [path.name for path in files] == ["mine.html", "mine-labels.html"]
    one, work = dealt()
    assert len(sheet_files(tmp_path / "mine.html", one, work, DAY)) == 1
