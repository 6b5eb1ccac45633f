"""Property tests draw the same examples in every run and are never timed; one core a process."""

import gc
import os
import sys

import pytest

# two processes share the cores, and each would start a thread of linear algebra a core
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# an installed program has its bytecode: compiled anew in every process that tests start, it would
# take as long again to come up, and so would the tests
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

from hypothesis import settings  # noqa: E402 - numpy, which may come with it, reads the above

settings.register_profile("fixed", derandomize=True, deadline=None, max_examples=30)
settings.load_profile("fixed")
# caches of plans and tasks live to the end: looking them through again and again costs a tenth
gc.set_threshold(20_000, 50, 50)


def pytest_collection_modifyitems(items):
    """Tests of the browser come first, and so to one process: each would start one of its own."""
    items.sort(key=lambda item: "browser" not in item.fixturenames)


@pytest.fixture(scope="session")
def browser():
    """One browser for all pages; tests that ask for it are marked `needs_browser`."""
    from tests.browser import opened

    with opened() as running:
        yield running
