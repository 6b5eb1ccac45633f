import pytest

from tests.report.browser import browsing


@pytest.fixture(scope="session")
def browser():
    """One browser for all pages of this room; tests that ask for it are marked `needs_browser`."""
    with browsing() as running:
        yield running
