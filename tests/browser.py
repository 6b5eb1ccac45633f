"""The headless browser of Debian, started once for all tests that a process runs."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(
    BROWSER is None, reason="no chromium on this machine: nothing can load or print a page"
)
ARGS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync",
    "--disable-component-update", "--no-first-run", "--disable-default-apps", "--disable-quic",
    "--hide-scrollbars",
)  # fmt: skip


@contextmanager
def opened() -> Iterator[Browser]:
    """A browser without a screen."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=BROWSER, args=list(ARGS))
        try:
            yield browser
        finally:
            browser.close()
