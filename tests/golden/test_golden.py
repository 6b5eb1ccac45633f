"""Words and figures stay as they are kept, until somebody means to change them."""

from difflib import unified_diff
from pathlib import Path

import pytest

from tests.golden.make import RESULTS, made, rounded, words_of

KEPT = Path(__file__).with_name("kept")
MOST_BYTES = 200_000


@pytest.mark.parametrize("name", RESULTS)
def test_it_is_as_it_was_kept(name):
    """A change that is wanted is kept by `python -m tests.golden`, and read in the diff."""
    kept = {file.name: file.read_text(encoding="utf-8") for file in KEPT.glob(f"{name}.*")}
    now = made(name)
    assert kept.keys() == now.keys()
    changed = [
        line
        for file, text in now.items()
        for line in unified_diff(
            kept[file].splitlines(), text.splitlines(), f"kept/{file}", "now", lineterm="", n=1
        )
    ]
    assert not changed, "\n".join([*changed[:200], "Wanted? python -m tests.golden"])


def test_nothing_is_kept_that_is_not_compared():
    files = list(KEPT.iterdir())
    assert {file.name.partition(".")[0] for file in files} == set(RESULTS)
    assert sum(file.stat().st_size for file in files) < MOST_BYTES


def test_numbers_are_kept_as_far_as_machines_agree():
    assert [rounded(x) for x in (889.88856401, 1e-9, -1e-12, 0.05)] == [889.889, 0.0, 0.0, 0.05]
    assert str(rounded(-1e-12)) == "0.0"


def test_words_of_a_page_are_its_text_by_lines():
    html = "<title>a</title><style>p {}</style><tr><td>1<td><b>2</b> mm<p>x<br>y"
    assert words_of(html) == "a\n| 1 | 2 mm\nx\ny\n"
