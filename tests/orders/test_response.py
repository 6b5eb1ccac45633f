"""What the bench makes of a set: limits that are known, and the table against the formula."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.model.job import Gauge
from optimizer.model.pattern import Pattern
from optimizer.orders.build import build, first_built_n
from optimizer.orders.clutch import BenchWork
from optimizer.orders.joint import JointPart, lay_out
from optimizer.orders.response import ROUNDS, doubts_of, left_over, set_chance, within
from optimizer.orders.unpack import Draw
from tests.orders.cases import KART, study


def chance(of, **changes):
    to = replace(of.clutch, **changes)
    return set_chance(doubts_of(of.candidates[0], to, of.making), to)


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
            on = lay_out(JointPart(of, 0, 0), Draw(9, number), 400)
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
    rate = of.candidates[0].rate_n_per_mm
    best = within(0.02 * rate / of.clutch.spread_n)
    assert chance(of, place_sd_mm=0.02, work=BenchWork(ROUNDS)) < best


def test_groups_leave_what_their_readings_and_the_shoes_err():
    of = study(1)
    each = chance(of, work=BenchWork(groups=3), gauge=Gauge(1.0, 0.3, 0.0))
    # three groups, each read once: sqrt((1/12 + 0.09) / 3) N of 9 N
    assert each == pytest.approx(within(np.sqrt((1 / 12 + 0.09) / 3) / 9.0), abs=1e-6)


def test_beyond_the_table_doubts_grow_and_below_it_they_are_its_first_cells():
    far, edge = left_over((1.3, 3.6, 0.2), 3), left_over((1.3, 1.8, 0.2), 3)
    assert far == pytest.approx(edge * 2, rel=0.05)
    assert left_over((0.06, 0.36, 0.0), 3) == left_over((0.06, 0.36, 0.06), 3)
    assert left_over((0.1, 0.0, 0.1), 5) <= 0.1  # never more than was there at first


def test_one_round_finds_what_was_built_and_mends_nothing():
    assert left_over((0.3, 0.4, 0.2), 1) == pytest.approx(0.5)
