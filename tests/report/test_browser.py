"""The sheet in a real browser: on a phone, on a screen and on paper."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from optimizer.report.page import sheet
from tests.report.html_checks import read_html
from tests.report.plans import DAY, dealt, disc_names

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(
    BROWSER is None, reason="no chromium on this machine: nothing can load or print the sheet"
)
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--enable-logging=stderr", "--hide-scrollbars", "--window-size=1400,1000",
)  # fmt: skip
#: seconds after which a browser that hangs is given up; no measure of the sheet
PATIENCE = 180
DARK = "@media screen and (prefers-color-scheme: dark)"
LONG = {"pairs": 1, "singles": 10, "spare": 30, "wicked": True}


def browse(tmp_path: Path, page: Path, *flags: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(BROWSER), *FLAGS, f"--user-data-dir={tmp_path / 'profile'}", *flags, page.as_uri()],
        capture_output=True, text=True, timeout=PATIENCE, check=True,
    )  # fmt: skip


def written(tmp_path: Path, **how: object) -> Path:
    plan, work = dealt(**how)
    path = tmp_path / "sheet.html"
    page = sheet(plan, work, DAY)
    path.write_text(page, encoding="utf-8")
    return path


def test_it_loads_without_a_word_on_the_console_and_names_every_disc(tmp_path):
    path = written(tmp_path, **LONG)
    ran = browse(tmp_path, path, "--dump-dom")
    assert not re.findall(r".*CONSOLE.*", ran.stderr)
    words = read_html(ran.stdout)[0].words()
    assert all(name in words for name in disc_names(dealt(**LONG)[0]))


def test_the_console_would_be_heard(tmp_path):
    path = tmp_path / "loud.html"
    path.write_text("<!DOCTYPE html><title>x</title><script>console.error('heard')</script>")
    assert "heard" in "".join(
        re.findall(r".*CONSOLE.*", browse(tmp_path, path, "--dump-dom").stderr)
    )


def probed(tmp_path: Path, pages: list[str]) -> list[dict[str, Any]]:
    """Load pages in frames of several widths and return what was measured in each."""
    probe = (Path(__file__).parent / "probe.html").read_text(encoding="utf-8")
    path = tmp_path / "probe.html"
    said = json.dumps(pages).replace("<", "\\u003c")
    path.write_text(probe.replace("PAGES", said), encoding="utf-8")
    dom, _ = read_html(browse(tmp_path, path, "--dump-dom").stdout)
    return json.loads(dom.all("pre")[0].words())


def test_it_fits_a_phone_and_is_readable_in_light_and_dark(tmp_path):
    page = written(tmp_path, **LONG).read_text(encoding="utf-8")
    assert DARK in page
    dark = page.replace(DARK, "@media all")
    reports = probed(tmp_path, [page, dark, page, page, page])
    assert [r["width"] for r in reports] == [360, 360, 1280, 1000, 768]
    assert reports[0]["paper"] != reports[1]["paper"]
    for report in reports:
        assert report["scroll"] <= report["client"]
        assert report["outside"] == []
        assert report["clipped"] == []
        assert report["cut"] == []
        assert report["faint"] == []
        assert report["texts"] > 200


def printed(tmp_path: Path, page: str, paper: str) -> bytes:
    """Print a page on paper of a size and return the PDF."""
    path = tmp_path / "printed.html"
    path.write_text(page.replace("@page { margin", f"@page {{ size: {paper}; margin"), "utf-8")
    assert f"size: {paper}" in path.read_text("utf-8")
    pdf = tmp_path / "sheet.pdf"
    browse(tmp_path, path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    return pdf.read_bytes()


def pages_of(data: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", data))


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize(
    "how",
    [LONG, {"pairs": 4, "singles": 8, "spare": 20}, {"shims_mm": (0.2,), "installed_mm": 11.7}],
)
def test_a_set_of_three_shoes_prints_on_two_pages(tmp_path, paper, how):
    data = printed(tmp_path, written(tmp_path, **how).read_text(encoding="utf-8"), paper)
    width, height = (595, 842) if paper == "A4" else (612, 792)
    box = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert float(box[1]) == pytest.approx(width, abs=1)
    assert float(box[2]) == pytest.approx(height, abs=1)
    assert pages_of(data) == 2


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_eleven_sets_print_on_a_page_each_and_an_index(tmp_path, paper):
    page = written(tmp_path, sets=11, singles=7).read_text(encoding="utf-8")
    assert pages_of(printed(tmp_path, page, paper)) == 12


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


def test_sizes_and_order_on_paper_are_those_of_the_hand(tmp_path):
    page = written(tmp_path, **LONG).read_text(encoding="utf-8")
    paper = page.replace("@media print", "@media all")
    path = tmp_path / "measure.html"
    # the width of Letter and A4 alike between the margins
    held = paper.replace("&", "&amp;").replace('"', "&quot;")
    path.write_text(
        '<!DOCTYPE html><html lang="en"><title>x</title>'
        f'<iframe style="width:190mm;height:255mm;border:0" srcdoc="{held}"></iframe>{MEASURE}',
        encoding="utf-8",
    )
    dom, _ = read_html(browse(tmp_path, path, "--dump-dom").stdout)
    found = json.loads(dom.all("pre")[0].words())
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
