"""Shrinkage and the doubt it leaves, on invented bags with a known truth."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer.estimate.lots import SMALLEST_LOT, lot_statistics
from optimizer.estimate.prior import (
    believe,
    measured_again,
    measurement_noise,
)
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Instrument
from tests.bags import plain_job, seeded_bag
from tests.io.job.files import job_of

CALIPER = Instrument(0.010, 0.010)
MICROMETER = Instrument(0.002, 0.002)


def measured(tool, rng, true_sd_mm, n=40, overall=True, lot="", repeats=1):
    """True thicknesses and cone heights (n, 2) and the bag as an instrument sees them."""
    true = np.array([0.9, 0.5]) + true_sd_mm * rng.normal(size=(n, 2))
    error = rng.normal(size=(n, 2)) / np.sqrt(repeats)
    t = true[:, 0] + tool.thickness_sd_mm * error[:, 0]
    h = true[:, 1] + tool.height_sd_mm * error[:, 1]
    h += true[:, 0] - t if overall else 0.0
    discs = tuple(
        Disc(f"D{i:02d}", 20.0, 10.2, t[i], h[i], "sharp", 0.0, lot, "", repeats, overall)
        for i in range(n)
    )
    return true, Bag(Path("bag.csv"), discs)


@pytest.fixture
def job(tmp_path):
    return job_of(tmp_path)


def test_a_caliper_on_a_uniform_bag_knows_almost_nothing(job):
    rng = np.random.default_rng(1)
    job = replace(job, instrument=CALIPER)
    told = []
    for _ in range(20):
        _, bag = measured(CALIPER, rng, 0.0005)
        belief = believe(bag, job)
        seen = np.array([d.thickness_mm for d in bag.discs])
        told.append(belief.thickness_mm.std() / seen.std())
        doubt = np.sqrt(belief.covariance[:, 0, 0])
        assert (doubt > 0.0005).all()  # it does not claim to know them equal
        assert (doubt < CALIPER.thickness_sd_mm).all()
    assert np.mean(told) < 0.2


def test_a_micrometer_on_a_varied_bag_is_believed(job):
    _, bag = measured(MICROMETER, np.random.default_rng(2), 0.012)
    belief = believe(bag, replace(job, instrument=MICROMETER))
    seen = np.array([d.thickness_mm for d in bag.discs])
    assert np.abs(belief.thickness_mm - seen).max() < 0.0015
    assert np.sqrt(belief.covariance[:, 0, 0]) == pytest.approx(0.002, rel=0.03)


@pytest.mark.parametrize("overall", [True, False])
@pytest.mark.parametrize("true_sd_mm", [0.001, 0.006, 0.012])
def test_the_doubt_is_honest_and_never_too_small(job, true_sd_mm, overall):
    """A bag more uniform than a caliper can tell is doubted too much, never too little."""
    rng = np.random.default_rng(3)
    job = replace(job, instrument=CALIPER)
    errors, claimed = [], []
    for _ in range(60):
        true, bag = measured(CALIPER, rng, true_sd_mm, overall=overall)
        belief = believe(bag, job)
        error = np.stack([belief.thickness_mm, belief.cone_height_mm], -1) - true
        errors.append((error - error.mean(0)) ** 2)  # a lot's mean does not part its loads
        claimed.append(np.diagonal(belief.covariance[:, :2, :2], axis1=1, axis2=2))
    ratio = np.sqrt(np.mean(errors, (0, 1)) / np.mean(claimed, (0, 1)))
    assert (ratio < 1.04).all()
    assert (ratio > 0.8).all() or true_sd_mm < 0.005


def test_believed_values_are_nearer_the_truth_than_measured_ones(job):
    rng = np.random.default_rng(4)
    nearer = []
    for _ in range(20):
        true, bag = measured(CALIPER, rng, 0.005)
        belief = believe(bag, replace(job, instrument=CALIPER))
        seen = np.array([(d.thickness_mm, d.cone_height_mm) for d in bag.discs])
        ours = np.stack([belief.thickness_mm, belief.cone_height_mm], -1)
        nearer.append(np.square(ours - true).mean(0) < np.square(seen - true).mean(0))
    assert np.all(nearer)


def test_a_perfect_instrument_is_taken_at_its_word(job):
    _, bag = measured(CALIPER, np.random.default_rng(5), 0.01)
    belief = believe(bag, replace(job, instrument=Instrument(0.0, 0.0)))
    seen = [d.cone_height_mm for d in bag.discs]
    np.testing.assert_allclose(belief.cone_height_mm, seen, atol=1e-9)
    assert np.sqrt(belief.covariance[:, :2, :2].max()) < 1e-7


def test_lots_are_drawn_to_their_own_mean_and_a_few_discs_are_left_alone(job):
    rng = np.random.default_rng(6)
    _, many = measured(CALIPER, rng, 0.001, lot="many")
    _, few = measured(CALIPER, rng, 0.001, n=SMALLEST_LOT - 1, lot="few")
    thicker = tuple(
        replace(d, name=f"F{i}", thickness_mm=d.thickness_mm + 0.1) for i, d in enumerate(few.discs)
    )
    bag = Bag(many.path, many.discs + thicker)
    belief = believe(bag, replace(job, instrument=CALIPER))
    np.testing.assert_allclose(
        belief.thickness_mm[40:], [d.thickness_mm for d in thicker], atol=1e-4
    )
    assert belief.thickness_mm[:40].mean() == pytest.approx(
        np.mean([d.thickness_mm for d in many.discs]), abs=1e-4
    )


def test_discs_that_read_exactly_alike_are_believed_alike(job):
    bag = Bag(
        Path("bag.csv"),
        tuple(Disc(f"D{i}", 20.0, 10.2, 0.9, 0.5, "sharp", 0.0) for i in range(12)),
    )
    belief = believe(bag, replace(job, instrument=CALIPER))
    assert belief.thickness_mm == pytest.approx(0.9)
    assert np.isfinite(belief.covariance).all()


def test_the_true_variance_is_found_in_a_large_lot():
    rng = np.random.default_rng(7)
    value = rng.normal(0.9, np.hypot(0.006, 0.010), 4000)
    _, variance, _ = lot_statistics(value, np.full(4000, 0.010**2), np.zeros(4000, dtype=np.intp))
    assert np.sqrt(variance[0]) == pytest.approx(0.006, rel=0.1)


def test_three_more_measurements_are_as_good_as_four_at_once():
    overall, one = np.array([True, False]), np.ones(2)
    before = np.diag([0.006**2, 0.02**2, 0.01**2])[None].repeat(2, 0)
    once = measured_again(before, measurement_noise(CALIPER, overall, one))[1]
    more = measured_again(once, measurement_noise(CALIPER, overall, 3 * one))[1]
    four = measured_again(before, measurement_noise(CALIPER, overall, 4 * one))[1]
    np.testing.assert_allclose(more, four, rtol=1e-6, atol=1e-15)


def test_the_display_step_and_a_shared_thickness_count():
    tool = Instrument(0.002, 0.005, 0.01, 0.01)
    noise = measurement_noise(tool, np.array([True, False]), np.array([1.0, 4.0]))
    t, h = 0.002**2 + 0.01**2 / 12, 0.005**2 + 0.01**2 / 12
    np.testing.assert_allclose(noise[0], [[t, -t], [-t, t + h]])
    t4, h4 = 0.002**2 / 4 + 0.01**2 / 12, 0.005**2 / 4 + 0.01**2 / 12  # rounding stays
    np.testing.assert_allclose(noise[1], [[t4, 0], [0, h4]])


def test_a_flat_leaves_doubt_in_the_load_assumed_or_measured() -> None:
    """A hundredth of a mm is 0.9 to 1 % of the load (8 % a tenth by the lever alone, reference)."""
    bag, job = seeded_bag(12, 1), plain_job()
    job = replace(job, instrument=Instrument(flat_sd_mm=0.01))
    dressed = tuple(
        replace(d, edge="dressed", flat_mm=0.15, flat_assumed=i < 6)
        for i, d in enumerate(bag.discs)
    )
    sd = np.sqrt(believe(replace(bag, discs=dressed), job).covariance[:, 2, 2])
    assert sd[6:] == pytest.approx(np.hypot(job.model.disc_stiffness_sd, 0.0097), rel=0.01)
    assert sd[:6] == pytest.approx(np.hypot(job.model.disc_stiffness_sd, 0.029), rel=0.01)
