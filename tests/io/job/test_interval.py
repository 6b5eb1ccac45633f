import pytest

from optimizer.io.job.interval import Interval


@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [("(0, 25]", (1e-9, 25), (0, 25.001)), ("[0, 0.5)", (0, 0.499), (0.5, -1e-9))],
)
def test_ends_are_open_or_closed(text, inside, outside):
    interval = Interval.parse(text)
    assert all(value in interval for value in inside)
    assert not any(value in interval for value in outside)


def test_says_the_range_in_the_users_unit():
    assert Interval.parse("(0, 25.4]").says(25.4, "in") == "> 0 and <= 1 in"
    assert Interval.parse("[0, inf)").says() == ">= 0"
