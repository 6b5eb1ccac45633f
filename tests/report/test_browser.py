"""The sheet in a real browser: on a phone, on a screen and on paper."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from optimizer.report.page import sheets
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
    (page,) = sheets(plan, work, DAY)
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


def test_it_fits_a_phone_and_is_readable_in_light_and_dark(tmp_path):
    page = written(tmp_path, **LONG).read_text(encoding="utf-8")
    assert DARK in page
    dark = page.replace(DARK, "@media all")
    probe = (Path(__file__).parent / "probe.html").read_text(encoding="utf-8")
    pages = json.dumps([page, dark, page]).replace("<", "\\u003c")
    path = tmp_path / "probe.html"
    path.write_text(probe.replace("PAGES", pages), encoding="utf-8")
    dom, _ = read_html(browse(tmp_path, path, "--dump-dom").stdout)
    reports = json.loads(dom.all("pre")[0].words())
    assert [r["width"] for r in reports] == [360, 360, 1280]
    assert reports[0]["paper"] != reports[1]["paper"]
    for report in reports:
        assert report["scroll"] <= report["client"]
        assert report["outside"] == []
        assert report["clipped"] == []
        assert report["faint"] == []
        assert report["texts"] > 200


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("how", [LONG, {"pairs": 4, "singles": 8, "spare": 20}])
def test_a_set_of_three_shoes_prints_on_two_pages(tmp_path, paper, how):
    path = written(tmp_path, **how)
    page = path.read_text(encoding="utf-8")
    assert "@page {" in page
    path.write_text(page.replace("@page {", f"@page {{ size: {paper};"), encoding="utf-8")
    printed = tmp_path / "sheet.pdf"
    browse(tmp_path, path, "--no-pdf-header-footer", f"--print-to-pdf={printed}")
    data = printed.read_bytes()
    width, height = (595, 842) if paper == "A4" else (612, 792)
    box = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert float(box[1]) == pytest.approx(width, abs=1)
    assert float(box[2]) == pytest.approx(height, abs=1)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", data)) <= 2
