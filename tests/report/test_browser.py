"""The sheet in a real browser: on a phone, on a screen and on paper."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache

import pytest

from optimizer.report.page import sheet, sheet_files
from tests.browser import needs_browser
from tests.report.browser import DARK, pages_of, printed, probed, shown, type_sizes
from tests.report.html_checks import read_html
from tests.report.plans import DAY, dealt, disc_names

pytestmark = needs_browser
LONG = {"pairs": 1, "singles": 10, "spare": 30, "wicked": True}
#: papers, and their size in points
PAPERS = {"A4": (595, 842), "letter": (612, 792)}


@cache
def page_of(**how):
    plan, work = dealt(**how)
    return sheet(plan, work, DAY)


def test_it_loads_without_a_word_on_the_console_and_names_every_disc(browser):
    with shown(browser, page_of(**LONG)) as (page, said):
        words = read_html(page.content())[0].words()
    assert said == []
    assert all(name in words for name in disc_names(dealt(**LONG)[0]))


def test_the_console_would_be_heard(browser):
    loud = "<!DOCTYPE html><title>x</title><script>console.error('heard')</script>"
    with shown(browser, loud) as (_, said):
        assert said == ["heard"]


def test_it_fits_a_phone_and_is_readable_in_light_and_dark(browser):
    page = page_of(**LONG)
    assert DARK in page
    dark = page.replace(DARK, "@media all")
    reports = probed(browser, [page, dark, page, page, page])
    assert [r["width"] for r in reports] == [360, 360, 1280, 1000, 768]
    assert reports[0]["paper"] != reports[1]["paper"]
    for report in reports:
        assert report["scroll"] <= report["client"]
        assert report["outside"] == []
        assert report["clipped"] == []
        assert report["cut"] == []
        assert report["faint"] == []
        assert report["texts"] > 200


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "how",
    [LONG, {"pairs": 4, "singles": 8, "spare": 20}, {"shims_mm": (0.2,), "installed_mm": 11.7}],
)
def test_a_set_of_three_shoes_prints_on_two_pages_and_the_first_in_no_small_type(
    browser, paper, how
):
    data = printed(browser, page_of(**how), paper)
    box = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert (float(box[1]), float(box[2])) == pytest.approx(PAPERS[paper], abs=1)
    assert pages_of(data) == 2
    first, second = type_sizes(data)
    assert min(first) >= 9 - 0.02
    assert max(first) >= 20 - 0.02  # the rule for the gauge
    assert min(second) >= 7 - 0.02


def test_small_type_would_be_found(browser):
    small = "<style>@page { margin: 0 } body { font: 8.5pt serif; zoom: 0.5 }</style><p>x</p>"
    (sizes,) = type_sizes(printed(browser, small, "A4"))
    assert list(sizes) == [pytest.approx(4.25, abs=0.02)]


@pytest.mark.parametrize("paper", PAPERS)
def test_eleven_sets_print_on_a_page_each_and_an_index(browser, paper):
    data = printed(browser, page_of(sets=11, singles=7), paper)
    assert pages_of(data) == 12
    assert min(map(min, type_sizes(data))) >= 9 - 0.02


def test_a_lot_and_its_labels_print_in_type_that_can_be_read(browser, tmp_path):
    plan, work = dealt(sets=14, singles=7)
    calm = [replace(s, rest_spread_n=1.0, spread_n=1.0, worn_spread_n=1.0) for s in plan.sets]
    files = sheet_files(tmp_path / "sheet.html", replace(plan, sets=tuple(calm)), work, DAY)
    for page in files.values():
        assert probed(browser, [page])[0]["outside"] == []
        sizes = type_sizes(printed(browser, page, "letter"))
        assert min(map(min, sizes[:-1])) >= 9 - 0.02  # the last page tells the inputs


#: what is measured on paper: the least of each in mm, and the least of its type in points
MEASURE = """<pre id="found"></pre><script>
"use strict";
const mm = 25.4 / 96, pt = 72 / 96;
const frame = document.querySelector("iframe");
window.addEventListener("load", () => {
  const d = frame.contentDocument, view = frame.contentWindow;
  const least = (of, value) => Math.min(...[...d.querySelectorAll(of)].map(value));
  const size = (e) => pt * parseFloat(view.getComputedStyle(e).fontSize);
  const shown = [...d.querySelectorAll(".hand *")].filter((e) =>
    !e.closest("svg, .unseen, .onscreen") && e.getClientRects().length &&
    [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()));
  const top = (of) => d.querySelector(of)?.getBoundingClientRect().top;
  document.getElementById("found").textContent = JSON.stringify({
    box: least("input[type=checkbox]", (e) => mm * e.getBoundingClientRect().width),
    line: least("input[type=text]", (e) => mm * e.getBoundingClientRect().height),
    id: least(".order tbody th", size),
    text: Math.min(...shown.map(size)),
    small: shown.filter((e) => size(e) < 8.99).map((e) => e.outerHTML.slice(0, 80)),
    rule: least(".rule .read b", size),
    order: ["h1", ".decision", ".rule", ".shoes", ".chance"].map(top),
    apart: Math.max(...[...d.querySelectorAll(".order tbody tr")].map((row) => {
      const svg = row.closest(".stack").querySelector("svg").getBoundingClientRect();
      return row.getBoundingClientRect().bottom - svg.bottom;
    })),
    wide: d.documentElement.scrollWidth - d.documentElement.clientWidth,
  });
});
</script>"""


def test_sizes_and_order_on_paper_are_those_of_the_hand(browser):
    paper = page_of(**LONG).replace("@media print", "@media all")
    # the width of Letter and A4 alike between the margins
    held = paper.replace("&", "&amp;").replace('"', "&quot;")
    html = (
        '<!DOCTYPE html><html lang="en"><title>x</title>'
        f'<iframe style="width:190mm;height:255mm;border:0" srcdoc="{held}"></iframe>{MEASURE}'
    )
    with shown(browser, html) as (page, _):
        found = json.loads(page.inner_text("#found"))
    assert found["box"] >= 5 - 0.01
    assert found["line"] >= 8 - 0.01
    assert found["id"] >= 11 - 0.01
    assert found["small"] == []
    assert found["rule"] >= 20 - 0.01
    assert found["order"] == sorted(found["order"])
    assert found["apart"] <= 0.5  # no row below the foot of the drawing
    assert found["wide"] <= 0


def test_every_printed_page_names_job_and_set(tmp_path):
    plan, work = dealt(sets=2)
    page = sheet(plan, work, DAY)
    named = [
        re.sub(r"\\([0-9a-f]{6})", lambda m: chr(int(m[1], 16)), line) for line in page.split("\n")
    ]
    feet = [line for line in named if "@bottom-left" in line and "content" in line]
    assert sum("set 1 of 2" in line and "job.toml" in line for line in feet) == 1
    assert sum("set 2 of 2" in line and "job.toml" in line for line in feet) == 1
