"""The whole loop in a real browser, from an empty folder to STOP, on a phone and on a desk."""

from __future__ import annotations

import csv
import shutil
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn

from optimizer.page.app import application
from optimizer.page.folder import Folder
from optimizer.page.house import House
from optimizer.page.serve import listening
from tests.page.conftest import EXAMPLES

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no chromium on this machine")
ARGS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync",
    "--disable-component-update", "--no-first-run", "--disable-default-apps",
)  # fmt: skip
LOOKS = Path(__file__).with_name("looks.js").read_text(encoding="utf-8")
#: bytes of a page with all that it loads
MOST_BYTES = 150_000
#: what the form is given: the clutch of the example, its stacks in a fixed room
CLUTCH = {
    "clutch.travel": "1.5",
    "datum.seating_load": "",
    "datum.installed_length": "11.2",
    "target.load": "890",
    "target.spread_tolerance": "9",
    "target.load_tolerance": "15",
    "clutch.shoe_mass": "210",
    "clutch.cg_radius": "52",
    "clutch.drum_radius": "63.5",
    "clutch.friction": "0.3",
    "disc.od": "20",
    "disc.id": "10.2",
    "stack.shims": "0.1, 0.1, 0.1, 0.2, 0.2, 0.2, 0.5, 0.5, 0.5",
}
MOST_ROUNDS = 8
#: kinds of readings, and how many N the first push is above the settled load
KINDS = (("first", 9), ("settled", 0))


@contextmanager
def serving(folder):
    doors, sockets = listening(None, False)
    house = House(Folder.of(folder), doors)
    server = uvicorn.Server(
        uvicorn.Config(application(house), log_level="critical", ws="none", lifespan="on")
    )
    thread = threading.Thread(target=server.run, args=(sockets,))
    thread.start()
    try:
        yield house
    finally:
        house.closing = True
        server.should_exit = True
        thread.join(10)
        for one in sockets:
            one.close()


@pytest.fixture(scope="module")
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=BROWSER, args=list(ARGS))
        yield browser
        browser.close()


class Tab:
    """A page of the browser that notes what it should not see."""

    def __init__(self, chromium, size, scheme):
        width, height = size
        self.context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme
        )
        self.context.set_default_timeout(15_000)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.page.on("console", lambda said: self.faults.append(said.text))
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("request", self._asked)

    def _asked(self, request):
        if not request.url.startswith("http://127.0.0.1:"):
            self.faults.append(f"asked for {request.url}")

    def looks(self):
        """Open everything that is folded, and look at it all."""
        self.page.wait_for_load_state("load")
        for summary in self.page.query_selector_all("details:not([open]) > summary"):
            summary.evaluate("el => { el.parentElement.open = true; }")
        assert self.page.evaluate(LOOKS) == []
        assert self.weight() < MOST_BYTES

    def weight(self):
        """Bytes of the page as it is now, and of everything that it loads."""
        return self.page.evaluate(
            "() => performance.getEntriesByType('resource').concat("
            "performance.getEntriesByType('navigation'))"
            ".filter((one) => one.initiatorType !== 'fetch')"
            ".reduce((sum, one) => sum + (one.encodedBodySize || 0), 0)"
        )


@pytest.mark.parametrize(
    ("size", "scheme", "typed"), [((360, 740), "light", 5), ((1280, 800), "dark", 1)]
)
def test_the_loop_from_an_empty_folder_to_stop(chromium, tmp_path, size, scheme, typed):
    with serving(tmp_path) as house:
        tab = Tab(chromium, size, scheme)
        try:
            tab.page.goto(house.doors.here)
            set_up(tab)
            folder = tmp_path / "mine"
            measure(tab, typed)
            match_and_build(tab, laid=20 if typed > 1 else 2)
            kinds = KINDS if typed > 1 else KINDS[1:]
            assert play(tab, kinds) == "STOP"
            assert (folder / "match-1" / "readings.csv").exists()
            if typed > 1:
                hookup(tab)
            assert tab.faults == []
        finally:
            tab.context.close()


def test_two_devices_see_the_same_within_a_second(chromium, shop):
    """One ticks and types; the other sees it, and what it was typing itself stays."""
    _, folder = shop
    with serving(folder) as house:
        one, other = (Tab(chromium, (360, 740), "light") for _ in range(2))
        try:
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
            assert one.faults == other.faults == []
        finally:
            one.context.close()
            other.context.close()


def set_up(tab):
    page = tab.page
    tab.looks()
    page.click("text=A new clutch")
    tab.looks()
    page.fill("#f-name", "mine")
    page.check("input[value=cone_height]")
    page.click("text=Make it")
    tab.looks()
    for name, value in CLUTCH.items():
        page.fill(f'[id="f-{name}"]', value)
    page.click("text=Save it")
    page.wait_for_selector("text=Saved in the job file")
    tab.looks()


def measure(tab, typed):
    """Type discs as a caliper does, every value ended by Enter; bring the others as a table."""
    page = tab.page
    page.click("nav >> text=Bag")
    tab.looks()
    with (EXAMPLES / "kart_mm" / "bag.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows[:typed], 1):
        page.focus("#f-thickness")
        page.fill("#f-thickness", "")
        page.keyboard.type(row["thickness_mm"])
        page.keyboard.press("Enter")
        page.fill("#f-height", "")
        page.keyboard.type(row["cone_height_mm"])
        page.keyboard.press("Enter")
        kept = page.locator(f"text=A{number:02d} is in the bag")
        asked = page.locator("button[name=insist]")
        kept.or_(asked).first.wait_for()
        if asked.count():
            asked.click()
            kept.wait_for()
    tab.looks()
    if typed < len(rows):
        left = [",".join(rows[0]), *(",".join(row.values()) for row in rows[typed:])]
        table = "\n".join(left).encode()
        page.set_input_files(
            "#f-file", {"name": "rest.csv", "mimeType": "text/csv", "buffer": table}
        )
        page.click("text=Look at it")
        tab.looks()
        page.click("text=Add them")
        page.wait_for_selector("h1:has-text('40 discs')")


def match_and_build(tab, laid):
    page = tab.page
    page.click("nav >> text=Match")
    tab.looks()
    page.click("button:has-text('Match the')")
    page.click("text=Build it")
    tab.looks()
    count = min(len(page.query_selector_all("[id^=part-1-]")), laid)
    for part in range(1, count + 1):
        page.focus(f"#part-1-{part}")
        page.keyboard.press("Space")
        page.wait_for_selector(f"#part-1-{part}[aria-pressed=true]")
    tab.looks()
    page.goto(page.url.partition("?")[0] + "?shoe=1")
    assert page.locator("[id^=part-1-][aria-pressed=true]").count() == count


def play(tab, kinds):
    """Read round after round; the loads are invented and come together."""
    page = tab.page
    page.click("nav >> text=Gauge")
    tab.looks()
    for number in range(1, MOST_ROUNDS):
        apart = 6.0 if number == 1 else 0.5
        for shoe in (1, 2, 3):
            for kind, above in kinds:
                field = f"#r-{shoe}-{kind}"
                if not page.is_visible(field):
                    continue
                before = page.locator(".past li").count()
                load = f"{890 + apart * (shoe - 2) + above:.1f}"
                if (number, shoe, kind) == (1, 2, "settled"):
                    slip(tab, field, load)
                else:
                    page.fill(field, load)
                    page.press(field, "Enter")
                page.wait_for_function(
                    "count => document.querySelectorAll('.past li').length > count", arg=before
                )
        tab.looks()
        word = page.inner_text(".advice h2")
        if word in ("STOP", "LEAVE"):
            return word
    return "no end"


def hookup(tab):
    """Look at the speeds, and at what an order asks for."""
    page = tab.page
    page.click(".brand a")
    page.click("text=mine")
    tab.looks()
    page.click("main >> text=Hookup")
    tab.looks()
    page.click(".brand a")
    page.click("text=mine")
    page.click("main >> text=Order")
    tab.looks()


def slip(tab, field, load):
    """Type a load ten times too high, look at the question, and take what is offered."""
    page = tab.page
    page.fill(field, load.replace(".", ""))
    page.press(field, "Enter")
    page.wait_for_selector("text=ten times too high")
    tab.looks()
    page.click("button[name=taken]")
