from pathlib import Path

from optimizer.io.job.key_table import key_table
from optimizer.io.job.keys import KEYS

PAGE = Path(__file__).parents[3] / "examples" / "job_keys.md"


def test_the_page_of_keys_is_what_the_values_of_a_job_state():
    assert PAGE.read_text(encoding="utf-8") == key_table(), (
        "make it anew: python -m optimizer.io.job.key_table > examples/job_keys.md"
    )


def test_every_key_is_listed_with_its_range_and_default():
    rows = {row.split(" | ")[0]: row for row in key_table().splitlines() if row.startswith("| `")}
    assert len(rows) == len(KEYS) - 1  # two sections have a key that is called resolution
    assert "| > 0 and <= 25.4 |  | movement from rest" in rows["| `travel_mm`, `travel_in`"]
    assert '| "en16984" or "thick" | "en16984" |' in rows["| `law`"]
    assert "| >= 1 and <= 3 | [1, 2] |" in rows["| `packet_sizes`"]
