"""Job files that nobody should have typed: one clear message each, and soon."""

import pytest

from optimizer.errors import InputError
from optimizer.io.job.reader import read_job
from optimizer.io.job.source import _find_lines

GOOD = """[bag]
file = "bag.csv"
[clutch]
shoes = 3
travel_mm = 1.5
[datum]
seating_load_n = 20
[target]
load_n = 890
load_tolerance_n = 9
spread_tolerance_n = 9
"""


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("shoes = 3", "shoes = " + "9" * 5000),
        ("shoes = 3", "shoes = 0x" + "f" * 5000),
        ("load_n = 890", "load_n = 0x" + "f" * 5000),
        ("load_n = 890", "load_n = 1e300"),
        ("load_n = 890", "load_n = nan"),
        ("travel_mm = 1.5", "travel_mm = " + "[" * 3000 + "]" * 3000),
        ("travel_mm = 1.5", "travel_mm" + " " * 50_000),
        ("travel_mm = 1.5", "[" + "a " * 50_000),
        ("travel_mm = 1.5", "x" * 100_000 + " = 1"),
    ],
)
def test_one_message_that_can_be_read(tmp_path, old, new):
    job = tmp_path / "job.toml"
    job.write_text(GOOD.replace(old, new))
    with pytest.raises(InputError) as caught:
        read_job(job)
    assert "job.toml" in str(caught.value)
    assert len(str(caught.value)) < 2000


def test_lines_are_found_once_from_end_to_end():
    found = _find_lines("[a]\n" + "b" + " " * 400_000 + "\nc.d = 1\n[[e]]\n'f' = 2\n")
    assert found["a.c", "d"] == 3
    assert found["e 1", "f"] == 5
