import pytest

from optimizer.report.chart import Axis, round_step
from optimizer.report.figures import Figures


@pytest.mark.parametrize(
    ("least", "step"), [(0.7, 1), (1, 1), (1.1, 2), (3, 5), (7, 10), (0.004, 0.005), (230, 500)]
)
def test_steps_are_one_two_five(least, step):
    assert round_step(least) == pytest.approx(step)


def test_ticks_are_round_values_where_they_belong():
    axis = Axis(-1.1, 1.1, 200, 0)
    ticks = axis.ticks()
    assert [name for _, name in ticks] == ["−1.0", "−0.5", "0.0", "0.5", "1.0"]
    assert ticks[2][0] == pytest.approx(100)
    assert ticks[0][0] > ticks[-1][0]


def test_figures_come_without_their_unit_and_with_it():
    inch = Figures("in")
    assert inch.load(889.644) == "200.0"
    assert inch.length(25.4) == "1.0000"
    assert inch.full_load(889.644) == "200.0\N{NO-BREAK SPACE}lbf"
    assert Figures("mm").full_length(25.4) == "25.400\N{NO-BREAK SPACE}mm"


def test_a_difference_has_a_sign_unless_it_is_nothing():
    figures = Figures("mm")
    assert figures.signed_load(1.234) == "+1.23"
    assert figures.signed_load(-1.234) == "−1.23"
    assert figures.signed_load(-0.001) == "0.00"
