"""What discs measured twice tell of the instrument, against textbook chi-square."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2

from optimizer.estimate.lots import SCALE_SD, taught
from optimizer.estimate.prior import believe
from optimizer.model.bag import Bag, Repeats
from optimizer.model.job import Instrument
from tests.simulator.setup import bag_for, job_for
from tests.simulator.truth import Truth, World

CALIPER = Instrument(thickness_sd_mm=0.01, height_sd_mm=0.01)


def bag_with(square_mm2, degrees):
    return Bag(Path("bag.csv"), (), "mm", thickness_repeats=Repeats(square_mm2, degrees))


def test_without_repeats_the_instrument_is_as_declared():
    assert taught(CALIPER, bag_with(0.0, 0)) == (CALIPER, 1.0)


@pytest.mark.parametrize("times", [0.4, 1.0, 2.5])
def test_the_sd_is_the_posterior_mean_of_a_chi_square_by_quadrature(times):
    square, degrees = 8 * (times * 0.01) ** 2, 8

    def density(ln, power):
        sd = 0.01 * np.exp(ln)
        before = np.exp(-0.5 * ((ln + SCALE_SD**2) / SCALE_SD) ** 2)
        return before * chi2.pdf(square / sd**2, degrees) / sd**2 * np.exp(power * ln)

    whole, mean_square = (quad(density, -3, 3, args=(p,))[0] for p in (0, 2))
    tool, left = taught(CALIPER, bag_with(square, degrees))
    assert tool.thickness_sd_mm == pytest.approx(0.01 * np.sqrt(mean_square / whole), rel=1e-3)
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
