"""Speeds seen on the engine: what they teach of pull and friction, against made-up truths."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.clutch.engagement import speed_rpm
from optimizer.clutch.engine import holding
from optimizer.clutch.shoes import linings_of, shoes_of
from optimizer.clutch.tachometer import seen
from optimizer.errors import InputError
from optimizer.model.readings import Speed
from optimizer.model.running import TorqueCurve
from tests.bags import plain_job
from tests.mechanics.strategies import between

CURVE = TorqueCurve((2000.0, 5000.0, 8000.0, 13000.0), (8.0, 14.0, 17.0, 11.0))
LOADS = (885.0, 890.0, 895.0)


def job(pull=1.0, friction=0.3, friction_sd=0.06):
    shoes = tuple(
        replace(s, mass_g=140.0 * pull, cg_radius_mm=52.0, drum_radius_mm=63.5, friction=friction,
                friction_sd=friction_sd)
        for s in plain_job().shoes
    )  # fmt: skip
    return replace(plain_job(), shoes=shoes)


def speeds(true):
    """Touch and hold of a clutch as it truly is."""
    pull, load = shoes_of(true).contact_pull_kgm, np.array(LOADS)
    held = holding(pull, linings_of(true), load, CURVE)
    return float(speed_rpm(pull, load).mean()), held.rpm


@given(between(0.9, 1.1), between(0.2, 0.45))
def test_touch_and_hold_read_well_tell_pull_and_friction(pull, friction):
    touch, hold = speeds(job(pull, friction))
    found = seen(job(friction_sd=0.5), Speed(touch, LOADS, 0.0, hold), CURVE)
    assert speeds(found.job) == pytest.approx((touch, hold), abs=1.5)
    assert found.job.shoes[0].mass_g == pytest.approx(140.0 * pull, rel=1e-9)
    assert found.job.shoes[0].friction == pytest.approx(friction, rel=0.03)
    assert found.job.shoes[0].friction_sd < 0.02


@given(between(0.93, 1.07), between(0.24, 0.38), st.integers(0, 10_000))
def test_what_is_learned_is_within_what_is_told_of_it(pull, friction, seed):
    touch, hold = speeds(job(pull, friction))
    noise = np.random.default_rng(seed).normal(0, 20, 2)
    found = seen(job(), Speed(touch + noise[0], LOADS, 20.0, hold + noise[1]), CURVE)
    off = found.job.shoes[0].friction - friction
    assert abs(off) < 4.5 * found.job.shoes[0].friction_sd
    assert found.job.shoes[0].friction_sd < 0.06
    assert abs(found.job.shoes[0].mass_g / (140.0 * pull) - 1) < 4.5 * found.pull_sd


def test_a_hold_alone_moves_what_is_doubted_most():
    _, hold = speeds(job(1.0, 0.38))
    unsure = seen(job(friction_sd=0.2), Speed(None, LOADS, 20.0, hold), CURVE)
    sure = seen(job(friction_sd=0.001), Speed(None, LOADS, 20.0, hold), CURVE)
    assert unsure.job.shoes[0].friction > 0.33
    assert sure.job.shoes[0].friction == pytest.approx(0.3, abs=0.003)
    assert sure.job.shoes[0].mass_g > unsure.job.shoes[0].mass_g > 140.0
    assert unsure.pull_sd < 0.05


def test_slips_of_the_hand_are_refused():
    touch, hold = speeds(job())
    with pytest.raises(InputError, match="by masses and radii"):
        seen(job(), Speed(touch / 10, LOADS), CURVE)
    with pytest.raises(InputError, match="as the speed that holds"):
        seen(job(friction_sd=0.2), Speed(touch, LOADS, 5.0, 3 * hold), CURVE)
    with pytest.raises(InputError, match="torque_file"):
        seen(job(), Speed(touch, LOADS, 5.0, hold), None)


def test_a_hold_that_the_job_rules_out_is_refused():
    with pytest.raises(InputError, match="at 6000 rpm, but by the job it never does"):
        seen(job(friction=0.001), Speed(None, LOADS, 0.0, 6000.0), CURVE)
