from dataclasses import replace

import numpy as np
import pytest

from optimizer.estimate.doubts import FAR, ExpectedReading, doubts
from optimizer.estimate.learn import learn, loads
from optimizer.estimate.words import doubt_words
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])


@pytest.fixture(scope="module")
def rig():
    world = World(sharp=True, instrument_sd_mm=0.01)
    return rig_for(Truth.draw(world, 3), job_for(world))


@pytest.fixture(scope="module")
def right(rig):
    return loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n


def read(shoe, load_n, kind="settled", **more):
    return Reading(1, shoe, STACKS[shoe - 1], kind, load_n, **more)


def of_last(rig, *readings, unit_n=1.0):
    return doubts(rig, readings, range(len(readings) - 1, len(readings)), unit_n).get(
        len(readings) - 1
    )


@pytest.mark.parametrize(
    ("wrong", "unit_n", "slip"),
    [
        (lambda n: n * 10, 1.0, "ten times too high"),
        (lambda n: n / 100, 1.0, "a hundred times too low"),
        (lambda n: n * 1000, 1.0, "a thousand times too high"),
        (lambda n: n / N_PER_LBF, 1.0, "that would be right in lbf"),
        (lambda n: n * N_PER_LBF, N_PER_LBF, "that would be right in N"),
        (lambda n: n / 9.80665, N_PER_LBF, "ten times too low"),
    ],
)
def test_the_likely_slip_is_offered(rig, right, wrong, unit_n, slip):
    doubt = of_last(rig, read(1, right[0]), read(2, wrong(right[1])), unit_n=unit_n)
    assert doubt.slip == slip
    assert doubt.expected.fits(doubt.offered_n)
    assert doubt.expected.load_n == pytest.approx(right[1], rel=0.03)


def test_swapped_digits_are_offered(rig, right):
    doubt = of_last(rig, read(1, right[0]), read(2, 490.0))
    assert (doubt.slip, doubt.offered_n) == ("two digits swapped", 940.0)


def test_the_rule_is_four_sds_and_a_re_read_counts_the_first_reading(rig, right):
    assert ExpectedReading(100.0, 5.0).fits(100.0 + FAR * 5.0)
    assert not ExpectedReading(100.0, 5.0).fits(100.0 + FAR * 5.0 + 0.1)
    # before any reading the load factor is known to some 5 %
    assert of_last(rig, read(1, 1.18 * right[0])) is None
    assert of_last(rig, read(1, 1.30 * right[0])) is not None
    # once one shoe was read the others are known better, and follow its level
    assert of_last(rig, read(1, right[0]), read(2, 1.18 * right[1])) is not None
    assert of_last(rig, read(1, 1.18 * right[0]), read(2, 1.18 * right[1])) is None


def test_a_reading_in_doubt_counts_for_none_after_it(rig, right):
    rows = [read(1, 10 * right[0]), read(2, right[1]), read(3, right[2])]
    assert list(doubts(rig, rows, range(3))) == [0]


def test_a_load_that_fits_another_shoe_says_so(rig, right):
    longer = (*STACKS[1], ("D27",), ("D28",))
    of_two = loads(learn(rig, (), NO_SHIMS), (STACKS[0], longer, STACKS[2]), NO_SHIMS).mean_n[1]
    other = Reading(1, 2, longer, "settled", 1.0)
    rows = [read(3, right[2]), read(1, of_two), other]
    doubt = doubts(rig, rows, range(1, 2))[1]
    assert (doubt.slip, doubt.offered_n) == ("it would fit shoe 2", None)


def test_settled_above_the_first_push_asks_whether_the_two_were_confused(rig, right):
    first = read(1, right[0] - 13.0, "first")
    doubt = of_last(rig, first, read(1, right[0]))
    assert doubt.first == first
    assert doubt.offered_n == first.load_n
    assert "Were the two confused?" in doubt_words(doubt, "in")
    assert of_last(rig, read(1, right[0] + 13.0, "first"), read(1, right[0])) is None
    # within what the gauge may err it is nothing to ask about
    assert of_last(rig, read(1, right[0] - 3.0, "first"), read(1, right[0])) is None


def test_it_is_said_with_what_was_expected(rig, right):
    doubt = of_last(rig, read(1, 10 * right[0]))
    said = doubt_words(replace(doubt, expected=ExpectedReading(806.0, 30.0), offered_n=813.8), "mm")
    assert said == f"{10 * right[0]:.6g} N: expected 806 +- 30 N. 813.8 N? (ten times too high)"
