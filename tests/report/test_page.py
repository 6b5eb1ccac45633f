import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import optimizer.report
from optimizer import text
from optimizer.report.dots import dots
from optimizer.report.figures import Figures
from optimizer.report.page import sheet
from optimizer.report.shoe import height_band
from tests.report.html_checks import read_html
from tests.report.plans import DAY, WICKED, dealt, disc_names

CSS = (Path(optimizer.report.__file__).parent / "sheet.css").read_text(encoding="utf-8")
ROOM = {"installed_mm": 11.7, "shims_mm": (0.2, 0.1)}


def page_of(**how):
    plan, work = dealt(**how)
    page = sheet(plan, work, DAY)
    return page


def seen(**how):
    return " ".join(read_html(page_of(**how))[0].words().split())


@pytest.mark.parametrize("how", [{}, {"units": "in"}, ROOM, {"wicked": True}, {"sets": 2}])
def test_the_page_is_well_formed_small_and_keeps_to_itself(how):
    page = page_of(**how)
    _, faults = read_html(page)
    assert faults == []
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert len(page.encode()) < 1_000_000
    for foreign in ("http:", "https:", "url(", "@import", "src=", "<script", "<link", "onload"):
        assert foreign not in page


def test_every_disc_is_named_and_ticked_off_in_order():
    plan, work = dealt()
    root, _ = read_html(sheet(plan, work, DAY))
    words = root.words()
    assert all(name in words for name in disc_names(plan))
    for article, stack in zip(root.all("article"), plan.sets[0].stacks, strict=True):
        boxes = [e for e in article.all("input") if e.get("type") == "checkbox"]
        # the list is as the stack stands: the last row is the bottom, as in the drawing
        flat = [name for packet in stack.packets for name in packet][::-1]
        assert [box.get("aria-label") for box in boxes] == [f"{name} placed" for name in flat]


def test_a_name_is_text_whatever_it_says():
    page = page_of(wicked=True)
    root, _ = read_html(page)
    assert not root.all("script")
    assert not [b for b in root.all("b") if b.words() == ""]
    for name in WICKED:
        assert name in root.words()
    assert "disc &lt;script&gt;alert(1)&lt;/script&gt;: looks odd." in page


def test_the_facts_of_the_plan_are_on_the_sheet():
    plan, _ = dealt()
    words = seen()
    one = plan.sets[0]
    for stack in one.stacks:
        assert Figures("mm").length(stack.free_height_mm) in words
        for load in (stack.rest_load_n, stack.working_load_n, stack.worn_load_n):
            assert Figures("mm").load(load) in words
    for fact in (
        text.load(one.spread_n, "mm", 2), text.percent(one.chance_within_tolerance),
        text.percent(one.chance_on_target), "2026-01-31", "seed 7", plan.version, "bag.csv",
        "job.toml", "not proven least", f"Left in the bag: {len(plan.unused)}", "Stored energy",
        "Spinning", "Dust", "race rules", "licence", "seating_load_n",
    ):  # fmt: skip
        assert fact in words


def test_the_doubt_at_work_is_that_of_the_plan():
    plan, work = dealt()
    root, _ = read_html(sheet(plan, work, DAY))
    (table,) = (t for t in root.all("table") if t.get("class") == "loads")
    for row, stack in zip(table.all("tbody")[0].all("tr"), plan.sets[0].stacks, strict=True):
        load, sd = (Figures("mm").load(v) for v in (stack.working_load_n, stack.working_load_sd_n))
        assert row.all("td")[1].words() == f"{load} ± {sd}"


def test_chances_that_are_not_known_are_not_shown():
    plan, work = dealt()
    bare = replace(
        plan.sets[0], chance_within_tolerance=None, chance_on_target=None, doubt=(), helps=()
    )
    page = sheet(replace(plan, sets=(bare,)), work, DAY)
    assert "The chance that" not in page
    assert "The chance that" in page_of()
    assert "odds" not in page_of().lower()


def test_each_datum_says_how_to_read_the_gauge():
    seated, fitted = seen(), seen(**ROOM)
    assert "zero the travel" in seated
    assert "stack and shims together" not in seated
    assert "stack and shims together to 10.176 mm" in fitted.replace("\N{NO-BREAK SPACE}", " ")
    assert fitted.count("shim 0.200") == 9  # a row, a tip and a description a shoe


def test_inch_users_read_pounds():
    words = seen(units="in").replace("\N{NO-BREAK SPACE}", " ")
    assert "200.0 lbf" in words
    assert "Settled, lbf" in words
    assert re.search(r"Free height by caliper ?0\.\d\d\d to 0\.\d\d\d in", words)


def ruled(spread_n, learned_mm=0.0):
    """The words of a sheet whose plan is so far apart, and whose travels were learned to differ."""
    plan, work = dealt()
    one = replace(plan.sets[0], spread_n=spread_n)
    learned = work.task.travel_mm + learned_mm * np.arange(3)
    work = replace(work, task=replace(work.task, travel_mm=learned))
    return " ".join(read_html(sheet(replace(plan, sets=(one,)), work, DAY))[0].words().split())


def test_learned_travels_give_no_shoe_a_target_of_its_own():
    words = ruled(1.0, 0.01)
    assert "Read and all three of each other." in words  # the figures are told as bold beside it
    assert "own target" not in words
    assert "the shoes differ" not in words
    assert "scaled to like engagement" not in words


def test_a_plan_beyond_the_tolerance_does_not_say_that_it_will_be_read_within():
    words = ruled(40.0)
    assert "Read each in its range" in words
    assert "they are apart as predicted, more than the 8.9 N asked.40.0 N" in words
    assert "all three" not in words


def test_tables_have_heads_and_pictures_have_words():
    root, _ = read_html(page_of())
    assert len(root.all("h1")) == 1
    for table in root.all("table"):
        assert table.all("caption")
        assert all(th.get("scope") in ("row", "col") for th in table.all("th"))
        for row in table.all("tbody")[0].all("tr"):
            assert row.all("th")
    pictures = root.all("svg")
    assert len(pictures) == 8  # three stacks, a chance, their mean load and three differences
    for svg in pictures:
        assert svg.get("role") == "img"
        if svg.get("class") == "dots":
            assert "of a hundred" in svg.get("aria-label")
            continue
        title, desc = svg.children[0], svg.children[1]
        assert (title.tag, desc.tag) == ("title", "desc")
        assert svg.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        assert len(desc.words()) > 60


def heights(group):
    """Vertical extent of a drawn disc in drawing units."""
    rows = [y for _, y in corners(group)]
    return min(rows), max(rows)


def corners(group):
    """Corners of both halves of a drawn disc."""
    body = next(p for p in group.all("path") if p.get("class") == "body")
    return [tuple(map(float, pair.split())) for pair in re.findall(r"[\d.]+ [\d.]+", body.get("d"))]


@pytest.mark.parametrize("how", [{}, ROOM, {"pairs": 0, "singles": 8}, {"units": "in"}])
def test_drawings_are_to_scale(how):
    plan, work = dealt(**how)
    overall = work.belief.thickness_mm + work.belief.cone_height_mm
    believed = dict(zip(work.belief.names, overall, strict=True))
    od = {disc.name: disc.od_mm for disc in work.bag.discs}
    root, _ = read_html(sheet(plan, work, DAY))
    drawings = [svg for svg in root.all("svg") if svg.get("class") == "drawing"]
    assert len(drawings) == 3
    for svg, stack in zip(drawings, plan.sets[0].stacks, strict=True):
        scale, across = float(svg.get("data-up")), float(svg.get("data-across"))
        assert scale > across  # cones are flat: heights are drawn larger
        parts = [g for g in svg.all("g") if g.get("class").startswith("part")]
        discs = [g for g in parts if "shim" not in g.get("class")]
        for group in discs:
            low, high = heights(group)
            name = group.all("title")[0].words().split(":")[0]
            assert (high - low) / scale == pytest.approx(believed[name], rel=0.01)
            wide = [x for x, _ in corners(group)]
            assert (max(wide) - min(wide)) / across == pytest.approx(od[name], rel=0.01)
        ends = [value for group in discs for value in heights(group)]
        assert (max(ends) - min(ends)) / scale == pytest.approx(stack.free_height_mm, rel=0.01)
        shims = [g for g in parts if "shim" in g.get("class")]
        for group, shim in zip(shims, stack.shims_mm, strict=True):
            low, high = heights(group)
            assert (high - low) / scale == pytest.approx(shim, rel=0.01)


def test_dressed_edges_are_marked_and_only_those():
    plan, work = dealt()
    edges = {disc.name: disc.edge for disc in work.bag.discs}
    root, _ = read_html(sheet(plan, work, DAY))
    groups = [g for g in root.all("g") if g.get("class") in ("part up", "part down")]
    assert {edges[g.all("title")[0].words().split(":")[0]] for g in groups} == {"sharp", "dressed"}
    for group in groups:
        name = group.all("title")[0].words().split(":")[0]
        marked = any(p.get("class") == "flat" for p in group.all("path"))
        assert marked == (edges[name] == "dressed")


def test_rows_stand_beside_what_they_name_and_cones_point_as_they_say():
    plan, work = dealt()
    root, _ = read_html(sheet(plan, work, DAY))
    for article in root.all("article"):
        (svg,) = (e for e in article.all("svg") if e.get("class") == "drawing")
        parts = [g for g in svg.all("g") if g.get("class") in ("part up", "part down")]
        drawn = [g.all("title")[0].words().split(":")[0] for g in parts]
        rows = article.all("tbody")[0].all("tr")
        assert [row.all("label")[0].words() for row in rows] == drawn[::-1]
        (leaders,) = (p for p in svg.all("path") if p.get("class") == "leader")
        ends = [float(y) for y in re.findall(r"L[\d.]+ ([\d.]+)h", leaders.get("d"))]
        height = 24 * len(rows)
        assert ends == pytest.approx([height - 24 * k - 12 for k in range(len(rows))])
        for group in parts:
            axis = sum(x for x, _ in corners(group)) / len(corners(group))
            rim = max(abs(x - axis) for x, _ in corners(group))
            outer = [y for x, y in corners(group) if abs(abs(x - axis) - rim) < 0.02]
            low, high = heights(group)
            assert len(outer) == 4  # both sides of the axis
            if group.get("class") == "part down":
                assert max(outer) == pytest.approx(high)  # down the page
            else:
                assert min(outer) == pytest.approx(low)


def test_a_bare_number_is_said_to_be_a_disc_and_a_band_is_what_a_caliper_tells():
    assert text.disc("4") == "no. 4"
    assert text.disc("A4") == "A4"
    low, high = height_band(10.03, 0.04, "mm")
    assert (low, high) == (pytest.approx(9.95), pytest.approx(10.1))
    low, high = height_band(0.5237 * 25.4, 0.01, "in")
    assert (low / 25.4, high / 25.4) == (pytest.approx(0.522), pytest.approx(0.526))


def test_a_chance_is_so_many_of_a_hundred_dots():
    for chance, count in ((0.34, 34), (0.0, 1), (0.9999, 99)):
        drawn = dots(chance)
        assert (drawn.full.count("M"), drawn.empty.count("M")) == (count, 100 - count)


def luminance(colour):
    """Relative luminance (WCAG 2.2) of #rrggbb."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [0, 1])
def test_every_text_colour_stands_out_from_every_ground(theme):
    block = re.findall(r":root \{(.*?)\}", CSS, re.DOTALL)[theme]
    colour = dict(re.findall(r"--([\w-]+): (#\w{6})", block))
    for words in ("ink", "muted", "accent", "warn"):
        for ground in ("paper", "card", "warn-paper"):
            assert contrast(colour[words], colour[ground]) >= 4.5, (words, ground)
    assert contrast(colour["ink"], colour["band"]) >= 4.5
    for line in ("ink", "muted", "l2", "l3", "l4"):
        assert contrast(colour[line], colour["card"]) >= 3, line


def test_warnings_and_discs_beyond_measure_are_folded_away():
    plan, work = dealt(spare=420)
    page = sheet(replace(plan, warnings=tuple(f"warning {i}" for i in range(20))), work, DAY)
    root, faults = read_html(page)
    assert faults == []
    folded = " ".join(e.words() for e in root.all("details"))
    assert "12 more" in folded
    assert "warning 19" in folded
    assert "warning 7" not in folded
    assert plan.unused[-1] in folded


def test_the_sheet_says_that_loads_are_not_computed_with_the_very_values_typed():
    page = page_of()
    assert "drawn towards the lot" in page
    assert "load --as-measured goes by the values as typed" in page
