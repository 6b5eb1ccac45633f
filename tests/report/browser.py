"""What a headless browser makes of pages: loads, measures, prints."""

from __future__ import annotations

import json
import math
import re
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

DARK = "@media screen and (prefers-color-scheme: dark)"
PROBE = (Path(__file__).parent / "probe.html").read_text(encoding="utf-8")


@contextmanager
def shown(browser: Browser, html: str) -> Iterator[tuple[Page, list[str]]]:
    """Load a page; also what is said on its console."""
    page = _tab(browser)
    said: list[str] = []
    heard = {
        "console": lambda told: said.append(told.text),
        "pageerror": lambda error: said.append(str(error)),
    }
    for event, hear in heard.items():
        page.on(event, hear)
    try:
        page.set_content(html, wait_until="load")
        yield page, said
    finally:
        for event, hear in heard.items():
            page.remove_listener(event, hear)
        page.goto("about:blank")


@cache
def _tab(browser: Browser) -> Page:
    """The one tab for all: a new one takes the browser as long as a page and its print."""
    return browser.new_page(viewport={"width": 1400, "height": 1000})


def probed(browser: Browser, pages: list[str]) -> list[dict[str, Any]]:
    """Load pages in frames of several widths and return what was measured in each."""
    probe = PROBE.replace("PAGES", json.dumps(pages).replace("<", "\\u003c"))
    with shown(browser, probe) as (page, _):
        page.wait_for_function("document.getElementById('found').textContent !== ''")
        found: list[dict[str, Any]] = json.loads(page.inner_text("#found"))
        return found


def printed(browser: Browser, html: str, paper: str) -> bytes:
    """Print a page on paper of a size and return the PDF."""
    sized = html.replace("@page {", f"@page {{ size: {paper};")
    assert sized != html
    with shown(browser, sized) as (page, _):
        return page.pdf(prefer_css_page_size=True)


def pages_of(pdf: bytes) -> int:
    """Return how many pages a PDF has."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def type_sizes(pdf: bytes) -> list[set[float]]:
    """Return the sizes of type in points, page by page, from the drawing orders of a PDF.

    Notes
    -----
    ISO 32000-1, 8.3.4 and 9.3: `a b c d e f cm` multiplies the matrix of the page, `size Tf`
    sets the size of type, `... Tm` the matrix of a text, `Tj` and `TJ` draw it.
    """
    objects = dict(re.findall(rb"(?m)^(\d+) 0 obj\b(.*?)\bendobj", pdf, re.DOTALL))
    found = []
    for body in objects.values():
        if not re.search(rb"/Type\s*/Page\b", body):
            continue
        sizes: set[float] = set()
        for number in re.findall(rb"/Contents\s+(\d+) 0 R", body):
            raw = re.search(rb"stream\r?\n(.*?)\nendstream", objects[number], re.DOTALL)
            assert raw is not None
            sizes |= _sizes(zlib.decompressobj().decompress(raw[1]).decode("latin-1"))
        found.append(sizes)
    return found


def _sizes(orders: str) -> set[float]:
    scale, text, size = 1.0, 1.0, 0.0
    kept: list[float] = []
    given: list[str] = []
    sizes = set()
    for token in orders.split():
        if not token.isalpha():
            given.append(token)
            continue
        if token == "cm":
            scale *= math.hypot(*map(float, given[-6:-4]))
        elif token == "Tm":
            text = math.hypot(*map(float, given[-6:-4]))
        elif token == "Tf":
            size = float(given[-1])
        elif token == "q":
            kept.append(scale)
        elif token == "Q":
            scale = kept.pop()
        elif token == "BT":
            text = 1.0
        elif token in ("Tj", "TJ"):
            sizes.add(scale * text * size)
        given.clear()
    return sizes
