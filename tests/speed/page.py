"""`python -m tests.speed.page`: how soon the bench page shows what was asked for.

In Debian's Chromium on the example: first paint of every page, the time from Enter behind the last
reading of a round to the next move on the screen, and from a tap to its tick; medians of 20.
"""

from __future__ import annotations

import shutil
import time
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from playwright.sync_api import Page

from tests.browser import opened
from tests.page.conftest import EXAMPLES, ROUND
from tests.page.tab import PHONE, Tab, serving
from tests.page.visit import Visit

TIMES = 20
AT = "/c/this/p/match-1/1"
PAGES = (
    "/c/this", "/c/this/clutch", "/c/this/bag", "/c/this/match", f"{AT}/build", f"{AT}/gauge",
    "/c/this/hookup?plan=match-1", "/c/this/order",
)  # fmt: skip
PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def paints(tab: Tab, base: str) -> None:
    """Print the first paint of every page, and its weight with all that it loads."""
    page = tab.page
    for path in PAGES:
        seen = []
        for _ in range(TIMES):
            page.goto(base + path)
            page.wait_for_function(PAINT)
            seen.append(page.evaluate(PAINT))
        print(
            f"first paint {path:28} {median(seen):6.0f} ms, worst {max(seen):6.0f}; "
            f"{tab.weight() / 1000:.0f} kB"
        )


def reading(page: Page, base: str, folder: Path) -> None:
    """Print how long the last reading of a round takes to its next move."""
    log, seen = folder / "match-1" / "readings.csv", []
    for number in range(TIMES):
        log.unlink(missing_ok=True)
        (folder / "job.known.json").unlink(missing_ok=True)
        page.goto(f"{base}{AT}/gauge")
        for shoe, (first, settled) in ROUND.items():
            for kind, load in (("first", first), ("settled", settled)):
                field = f"#r-{shoe}-{kind}"
                # other loads each time, so that no advice is at hand already
                page.fill(field, f"{load + number / 10:.1f}")
                began = time.perf_counter()
                page.press(field, "Enter")
                if (shoe, kind) == (3, "settled"):
                    page.wait_for_selector(".todo")
                    seen.append(time.perf_counter() - began)
                else:
                    page.wait_for_selector(field, state="detached")
    print(
        f"reading to next move               {1000 * median(seen):6.0f} ms, "
        f"worst {1000 * max(seen):6.0f}"
    )


def tick(page: Page, base: str) -> None:
    """Print how long a tap takes to its tick."""
    page.goto(f"{base}{AT}/build?shoe=1")
    seen = []
    for number in range(TIMES):
        wanted = "true" if number % 2 == 0 else "false"
        began = time.perf_counter()
        page.click("#part-1-1")
        page.wait_for_selector(f"#part-1-1[aria-pressed={wanted}]")
        seen.append(time.perf_counter() - began)
    print(
        f"tap to tick                        {1000 * median(seen):6.0f} ms, "
        f"worst {1000 * max(seen):6.0f}"
    )


def main() -> None:
    """Print all of it."""
    with TemporaryDirectory() as place, opened() as browser:
        folder = Path(place) / "kart"
        shutil.copytree(EXAMPLES / "kart_mm", folder)
        Visit(folder).matched()
        with serving(folder) as house:
            tab = Tab(browser, PHONE, "light")
            page = tab.page
            page.goto(house.doors.here)
            base = house.doors.here.partition("/enter")[0]
            paints(tab, base)
            tick(page, base)
            reading(page, base, folder)
            tab.context.close()


if __name__ == "__main__":
    main()
