"""The page in a real browser: the whole loop from an empty folder to STOP, and every page."""

from __future__ import annotations

import io
import shutil

import pytest

from tests.browser import needs_browser
from tests.page import steps
from tests.page.tab import DESK, PHONE, Tab, serving
from tests.page.test_bringing import MESSY
from tests.shell import evenstack

pytestmark = needs_browser


def test_the_loop_from_an_empty_folder_to_stop(browser, tmp_path, capsys, monkeypatch):
    """Played with the keyboard alone on a phone; the commands play it to the same files."""
    with serving(tmp_path) as house, Tab(browser, PHONE, "light") as tab:
        tab.page.goto(house.doors.here)
        steps.set_up(tab, "mine")
        steps.measure(tab, tmp_path / "mine" / "bag.csv")
        steps.match_and_build(tab)
        typed, word = steps.read(tab)
    assert word == "STOP"
    by_page, by_hand = tmp_path / "mine", tmp_path / "by hand" / "mine"
    assert evenstack(capsys, "init", by_hand).code == 0
    for name in ("job.toml", "bag.csv"):
        shutil.copy(by_page / name, by_hand)
    assert evenstack(capsys, "match", by_hand / "job.toml").code == 0
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(typed) + "\n"))
    plan = by_hand / "match-1" / "plan.json"
    assert evenstack(capsys, "bench", by_hand / "job.toml", "--plan", plan).code == 0
    for name in ("match-1/plan.json", "match-1/sheet.html", "match-1/readings.csv"):
        assert (by_page / name).read_bytes() == (by_hand / name).read_bytes(), name
    assert (by_page / "job.known.json").read_bytes() == (by_hand / "job.known.json").read_bytes()


#: every page of a clutch that was read once
PAGES = (
    "/c/this", "/new", "/c/this/clutch", "/c/this/bag?again=A01", "/c/this/match",
    "/c/this/p/match-1/1/build", "/c/this/p/match-1/1/gauge", "/c/this/hookup?plan=match-1",
    "/c/this/order", "/c/this/ways",
)  # fmt: skip


def test_every_page_keeps_what_pages_must_keep(browser, read_once):
    """On a phone in the dark, by the rules of axe-core and by keys; on a desk in the light."""
    with serving(read_once) as house, Tab(browser, PHONE, "dark") as tab:
        tab.page.goto(house.doors.here)
        for path in PAGES:
            tab.page.goto(house.doors.here.partition("/enter")[0] + path)
            everywhere(tab)
        tab.page.goto(house.doors.here.partition("/enter")[0] + "/c/this/bag")
        tab.page.click("text=Or paste one")
        tab.page.fill("#f-pasted", MESSY)
        with tab.page.expect_navigation():
            tab.page.click("text=Look at it")
        everywhere(tab)
        tab.page.check("input[value=sharp]")
        with tab.page.expect_navigation():
            tab.page.click("text=Read it so")
        tab.page.wait_for_selector("text=So it is read")
        everywhere(tab)


def everywhere(tab):
    """Look at a page as a phone in the dark shows it and as a desk in the light does."""
    tab.looks()
    tab.rules()
    tab.keys()
    tab.becomes(DESK, "light")
    tab.looks()
    tab.becomes(PHONE, "dark")


def test_the_name_of_a_disc_is_in_one_piece_on_the_smallest_phone(browser, read_once):
    """Beside the widest word that stands in its row."""
    with serving(read_once) as house, Tab(browser, (320, 640), "light") as tab:
        tab.page.goto(house.doors.here)
        tab.page.goto(house.doors.here.partition("/enter")[0] + "/c/this/p/match-1/1/build")
        assert tab.page.locator(".stack:not(.other) .in").count()
        broken = tab.page.eval_on_selector_all(
            ".stack:not(.other) .part:not(.plate) .id, .stack:not(.other) .in",
            "all => all.filter((one) => { const of = document.createRange();"
            " of.selectNodeContents(one); return of.getClientRects().length > 1; })"
            ".map((one) => one.textContent)",
        )
        assert broken == []


def test_a_fault_is_seen(browser, read_once):
    """What judges the pages finds faults where there are some."""
    with serving(read_once) as house, Tab(browser, PHONE, "light") as tab:
        tab.page.goto(house.doors.here)
        tab.page.evaluate(
            "() => { const at = document.querySelector('main'); at.insertAdjacentHTML('beforeend', "
            "'<button tabindex=-1></button><input><p>some words</p>');"
            "at.lastChild.style.color = '#999'; }"
        )
        with pytest.raises(AssertionError, match=r"not reached.*no name.*no label"):
            tab.looks()
        with pytest.raises(AssertionError, match=r"button-name.*color-contrast"):
            tab.rules()
        with pytest.raises(AssertionError, match="<button tabindex"):
            tab.keys()


def test_two_devices_see_the_same_within_a_second(browser, shop):
    """One ticks and types; the other sees it, and what it was typing itself stays."""
    _, folder = shop
    with (
        serving(folder) as house,
        Tab(browser, PHONE, "light") as one,
        Tab(browser, PHONE, "light") as other,
    ):
        for tab in (one, other):
            tab.page.goto(house.doors.here)
            tab.page.goto(tab.page.url + "/p/match-1/1/build?shoe=1")
        one.page.click("#part-1-1")
        other.page.wait_for_selector("#part-1-1[aria-pressed=true]", timeout=5000)
        for tab in (one, other):
            tab.page.click("nav >> text=Gauge")
        other.page.click("#r-2-settled")
        other.page.keyboard.type("88")
        one.page.fill("#r-1-settled", "890")
        one.page.press("#r-1-settled", "Enter")
        other.page.wait_for_selector(".past li", timeout=5000)
        other.page.keyboard.type("8.5")
        assert other.page.input_value("#r-2-settled") == "888.5"
        other.page.keyboard.press("Enter")
        one.page.wait_for_selector(".past li:has-text('888.5')", timeout=5000)
        other.page.fill("#r-3-settled", "90")
        one.page.fill("#r-3-settled", "905")
        one.page.press("#r-3-settled", "Enter")
        other.page.wait_for_selector("h1:has-text('round 2')")
        assert (
            other.page.eval_on_selector_all(".load", "all => all.map((f) => f.value).join('')")
            == ""
        )


def test_what_is_half_done_stays_when_a_page_loads_itself_again(browser, kart):
    """A chosen file, a pasted text and what is typed outlast a disc from elsewhere."""
    folder = kart.house.folder.root
    with serving(folder) as house, Tab(browser, PHONE, "light") as tab:
        page = tab.page
        page.goto(house.doors.here)
        page.goto(page.url + "/bag")
        file = {"name": "x.csv", "mimeType": "text/csv", "buffer": b"a,b\n"}
        page.set_input_files("#f-file", file)
        page.click("text=Or paste one")
        page.fill("#f-pasted", "half a table")
        page.fill("#f-thickness", "0.9")
        with (folder / "bag.csv").open("a") as bag:
            bag.write("Z1,20,10.2,0.905,0.48,sharp,,,\n")
        page.wait_for_selector("text=41 discs")
        assert page.evaluate("() => document.getElementById('f-file').files.length") == 1
        assert page.input_value("#f-pasted") == "half a table"
        assert page.input_value("#f-thickness") == "0.9"
