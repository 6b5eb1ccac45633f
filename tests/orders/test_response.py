"""What the bench makes of a set: limits that are known, and the table against the formula."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from scipy.stats import binom

from optimizer.model.job import Gauge
from optimizer.model.pattern import Pattern
from optimizer.orders.build import build, first_built_n
from optimizer.orders.clutch import BenchWork
from optimizer.orders.joint import lay_out
from optimizer.orders.response import ROUNDS, left_over, set_chance, within
from optimizer.orders.unpack import DeliveryDraw
from tests.orders.cases import KART, study
from tests.orders.response import START, fit, law_says

#: doubts of a bench, plays on it, and sets that were truly within after 2, 3 and 5 rounds
PLAYED = [
    ((0.6528, 0.363, 0.298, 0.2122), 160, (102, 133, 154)),  # sharp + micrometer, from 70000 on
]


def chance(of, **changes):
    return found(of, **changes).share


def found(of, **changes):
    return set_chance(replace(of, clutch=replace(of.clutch, **changes)))


def test_three_equal_doubts_are_within_as_often_as_the_studentized_range_says():
    # quantiles of the range of three standard normals: 3.314 at 95 %, 4.120 at 99 %
    # (tables of the studentized range for infinite degrees of freedom; from memory)
    assert within(1 / 3.314) == pytest.approx(0.95, abs=2e-4)
    assert within(1 / 4.120) == pytest.approx(0.99, abs=1e-4)


def test_as_first_built_the_chance_is_the_share_of_sets_that_are_built_so():
    """Without work on the bench: the formula against 300 sets built, their spread computed."""
    cases = (("V18-100", KART, 0.0, 0.02), ("V20-110", Pattern(9, 1), 0.15, 0.004))
    for name, pattern, flat_mm, scatter in cases:
        of = study(10, name, pattern, flat_mm=flat_mm)
        to = replace(of.clutch, scatter=scatter, place_sd_mm=0.01, spread_n=16.0)
        of = replace(of, clutch=to)
        spread = []
        for number in range(30):
            on = lay_out(of, DeliveryDraw(9, number), 400)
            built = build(on, 400, np.random.default_rng(number))
            if built is not None:
                spread += first_built_n(on, built, np.random.default_rng(number)).tolist()
        said = chance(of)
        error = np.sqrt(said * (1 - said) / len(spread))
        assert np.mean(np.array(spread) <= 16.0) == pytest.approx(said, abs=3 * error)


def test_more_rounds_and_a_finer_gauge_are_never_worse():
    of = study(1)
    of = replace(of, clutch=replace(of.clutch, place_sd_mm=0.01))
    read = Gauge(4.4, 0.9, reads="in the clutch")
    said = [chance(of, gauge=read, work=BenchWork(n)) for n in range(1, ROUNDS + 1)]
    assert said == sorted(said)
    assert said[0] < 0.6 < said[-1]
    coarse = replace(read, resolution_n=13.0)
    assert chance(of, gauge=coarse, work=BenchWork(5)) < chance(of, gauge=read, work=BenchWork(5))


def test_beside_the_clutch_no_round_mends_what_the_shoes_do():
    """The doubt of the shoes' travel alone bounds the chance."""
    of = study(1)
    rate = of.candidate.rate_n_per_mm
    best = within(0.02 * rate / of.clutch.spread_n)
    assert chance(of, place_sd_mm=0.02, work=BenchWork(ROUNDS)) < best


def test_groups_leave_what_their_readings_and_the_shoes_err():
    of = study(1)
    each = chance(of, work=BenchWork(groups=3), gauge=Gauge(1.0, 0.3, 0.0))
    # three groups, each read once: sqrt((1/12 + 0.09) / 3) N of 9 N
    assert each == pytest.approx(within(np.sqrt((1 / 12 + 0.09) / 3) / 9.0), abs=1e-6)


def test_more_doubt_and_fewer_rounds_are_never_better():
    """By the law itself: at every corner of what may come, and beyond what was played."""
    for at in product((0.01, 0.3, 1.0, 4.0), repeat=4):
        by_rounds = [left_over(at, n) for n in range(1, ROUNDS + 3)]
        assert all(b <= a + 1e-12 for a, b in pairwise(by_rounds))
        assert by_rounds[0] <= np.linalg.norm(at[:3]) + 1e-12  # never more than at first
        for k in range(4):
            more = [*at[:k], 1.5 * at[k], *at[k + 1 :]]
            assert left_over(tuple(more), 3) >= left_over(at, 3) - 1e-12


def test_one_round_finds_what_was_built_and_mends_nothing():
    assert left_over((0.3, 0.4, 0.0, 0.2), 1) == pytest.approx(0.5)


@pytest.mark.parametrize(("doubts", "plays", "kept"), PLAYED)
def test_the_law_says_what_plays_on_other_seeds_came_to(doubts, plays, kept):
    """Counted once with `tests/orders/promises.py`; no count lies outside its band of 99 %."""
    for rounds, good in zip((2, 3, 5), kept, strict=True):
        said = within(left_over(doubts, rounds))
        low, high = binom.interval(0.99, plays, said)
        assert low <= good <= high


def test_the_promise_tells_how_well_the_plays_do():
    of = study(1)
    read = Gauge(4.4, 0.9, reads="in the clutch")
    three = found(of, gauge=read, spread_n=20.0, work=BenchWork(3))
    assert three.low < three.share < three.high
    once = found(of, gauge=read, spread_n=20.0, work=BenchWork(1))
    assert once.low == once.share == once.high  # by formula: no play is asked


def test_the_law_is_the_likeliest_of_plays_drawn_from_it():
    """Plays made of a known law give it back: chances to some per cent, 2,000 plays."""
    rng = np.random.default_rng(5)
    doubts = np.exp(
        rng.uniform(np.log((0.05, 0.1, 0.05, 0.05)), np.log((1.4, 1, 2, 0.5)), (2000, 4))
    )
    p = np.column_stack([np.zeros(2000), law_says(doubts, START)])
    plays = np.column_stack([doubts, p, rng.random(p.shape) < p])
    again = law_says(doubts, fit(plays, 1.3 * START))
    assert np.abs(again - p[:, 1:]).mean() < 0.01
