"""What discs measured twice tell of the instrument, against textbook chi-square."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2

from optimizer.estimate.learn import learn, loads
from optimizer.estimate.prior import believe
from optimizer.estimate.repeats import SCALE_SD, taught
from optimizer.estimate.scale import GAUGE
from optimizer.model.bag import Bag, Repeats
from optimizer.model.job import Gauge, Instrument
from optimizer.model.readings import Reading
from tests.simulator.play import NO_SHIMS
from tests.simulator.setup import bag_for, job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

CALIPER = Instrument(thickness_sd_mm=0.01, height_sd_mm=0.01)


def bag_with(square_mm2, degrees):
    return Bag(Path("bag.csv"), (), thickness_repeats=Repeats(square_mm2, degrees))


def middle_of(density):
    """Geometric mean of a factor whose ln has this density."""
    first = quad(lambda ln: density(ln) * ln, -3, 3)[0]
    return np.exp(first / quad(density, -3, 3)[0])


def test_without_repeats_the_instrument_is_as_declared():
    assert taught(CALIPER, bag_with(0.0, 0)) == (CALIPER, 1.0)


@pytest.mark.parametrize("times", [0.4, 1.0, 2.5])
def test_the_sd_is_the_posterior_mean_of_a_chi_square_by_quadrature(times):
    square, degrees = 8 * (times * 0.01) ** 2, 8

    def density(ln):
        sd = 0.01 * np.exp(ln)
        return np.exp(-0.5 * (ln / SCALE_SD) ** 2) * chi2.pdf(square / sd**2, degrees) / sd**2

    tool, left = taught(CALIPER, bag_with(square, degrees))
    assert tool.thickness_sd_mm == pytest.approx(0.01 * middle_of(density), rel=1e-3)
    assert tool.height_sd_mm == 0.01
    assert left == 1.0  # heights were not measured twice


def test_many_repeats_leave_no_doubt_of_the_instrument():
    bag = replace(bag_with(400 * 0.02**2, 400), height_repeats=Repeats(400 * 0.01**2, 400))
    tool, left = taught(CALIPER, bag)
    assert tool.thickness_sd_mm == pytest.approx(0.02, rel=0.02)
    assert left < 0.1


def test_a_display_that_shows_the_same_again_does_not_prove_a_perfect_instrument():
    coarse = replace(CALIPER, thickness_resolution_mm=0.05)
    tool, _ = taught(coarse, bag_with(0.0, 10))
    assert 0.005 < tool.thickness_sd_mm <= 0.01


def test_discs_are_drawn_further_to_their_mean_where_repeats_differ_more():
    world = World(True, 0.01)
    bag, job = bag_for(Truth.draw(world, 1)), job_for(world)
    wild = replace(bag, thickness_repeats=Repeats(20 * 0.03**2, 20))
    plain, drawn = (believe(b, job).thickness_mm.std() for b in (bag, wild))
    assert drawn < 0.7 * plain


GAUGE_THAT_SAYS = Gauge(resolution_n=0.5, repeatability_n=1.0, travel_stop_mm=0.0)


def rounds_of(loads_n):
    """One stack that stands and is read again and again."""
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = replace(rig_for(Truth.draw(world, 7), job_for(world)), gauge=GAUGE_THAT_SAYS)
    stack = packs_of([np.arange(9)])[0]
    rows = [Reading(k, 1, stack, "settled", float(n)) for k, n in enumerate(loads_n, 1)]
    return learn(rig, rows, NO_SHIMS, scale_sd=SCALE_SD)


def test_a_stack_read_again_tells_what_the_gauge_is_worth():
    """The same chi-square, of sums of squares about the mean load (any textbook)."""
    off = np.array([-3.0, 2.0, 0.0, 3.5, -2.5])
    square, degrees = float(((off - off.mean()) ** 2).sum()), 4

    def density(ln):
        variance = np.exp(2 * ln) + 0.5**2 / 12
        before = np.exp(-0.5 * (ln / SCALE_SD) ** 2)
        return before * chi2.pdf(square / variance, degrees) / variance

    told = rounds_of(890.0 + off)
    factor = middle_of(density)
    assert told.factors[GAUGE] == pytest.approx(factor, rel=1e-3)
    assert told.rig.gauge.repeatability_n == pytest.approx(factor, rel=1e-3)
    assert told.before.gauge.repeatability_n == 1.0


def test_a_gauge_that_says_the_same_again_leaves_less_uncertainty_than_one_that_does_not():
    sd = []
    for off in (0.5, -0.5, 0.0, 0.0), (6.0, -6.0, 5.0, -5.0):
        told = rounds_of(890.0 + np.array(off))
        stands = told.evidence.readings[0].packs
        sd.append(np.sqrt(loads(told, (stands,), NO_SHIMS[:1]).covariance_n2[0, 0]))
    assert sd[1] > 2 * sd[0]


def test_what_was_built_again_tells_nothing_of_the_gauge():
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    one, other = packs_of([np.arange(9), np.arange(9, 18)])
    rows = [
        Reading(k, 1, stack, "settled", 890.0 + 9 * (k - 2))
        for k, stack in enumerate((one, other, one), 1)
    ]
    assert learn(rig, rows, NO_SHIMS, scale_sd=SCALE_SD).factors[GAUGE] == 1.0
