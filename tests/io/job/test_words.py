from annotated_types import Interval

from optimizer.io.job.words import bounds


def test_a_range_is_said_in_the_users_unit():
    assert bounds(Interval(gt=0, le=25.4), 25.4) == "> 0 and <= 1"
    assert bounds(Interval(ge=0)) == ">= 0"
    assert bounds(Interval(ge=0, lt=0.5)) == ">= 0 and < 0.5"
