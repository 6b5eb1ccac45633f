"""Where a clutch holds its engine."""

import numpy as np
import pytest
from hypothesis import given

from optimizer.clutch.engine import curve_nm, engine_nm, holding, torque
from optimizer.clutch.shoes import Linings
from optimizer.model.running import TorqueCurve
from tests.clutch.test_torque import sliding
from tests.mechanics.strategies import between

PULL, LOAD = np.full(3, 0.0072), np.array([880.0, 890.0, 900.0])
CURVE = TorqueCurve((2000.0, 5000.0, 8000.0, 12000.0), (8.0, 14.0, 17.0, 12.0))


def flat(nm):
    return TorqueCurve((1000.0, 5000.0, 9000.0), (nm,) * 3)


@given(between(1, 80), between(0.1, 0.6))
def test_a_flat_engine_is_held_where_the_square_law_says(nm, friction):
    """All touch: grip sum(pull w^2 - load) = nm, solved by hand for w."""
    linings = sliding(3, 63.5, friction, friction_sd=0.03)
    held = holding(PULL, linings, np.full(3, 890.0), flat(nm), 0.0, 10.0)
    grip = friction * 0.0635
    omega = np.sqrt((nm / (3 * grip) + 890.0) / 0.0072)
    assert held.rpm == pytest.approx(omega * 30 / np.pi, rel=1e-6)
    assert held.slips == ()
    # more friction and less load hold sooner: the doubt is the shift by either, in quadrature
    more = holding(PULL, sliding(3, 63.5, friction * 1.001), np.full(3, 890.0), flat(nm))
    by_friction = (held.rpm - more.rpm) / (0.001 * friction) * 0.03
    by_load = held.rpm - holding(PULL, linings, np.full(3, 889.0), flat(nm)).rpm
    assert held.sd_rpm == pytest.approx(np.hypot(by_friction, 10 * by_load), rel=0.02)


def test_the_margin_is_told_where_the_engine_gives_most():
    linings = sliding(3, 63.5, 0.3)
    held = holding(PULL, linings, LOAD, CURVE)
    assert held.peak_rpm == pytest.approx(8000, abs=10)
    assert held.peak_nm == pytest.approx(17.0, abs=1e-3)
    there = torque(PULL, linings, LOAD, np.array([8000.0])).total_nm[0]
    assert held.margin == pytest.approx(there / 17.0, rel=1e-2)


def test_an_engine_too_strong_is_never_held_and_one_that_grows_slips_again():
    linings = sliding(3, 63.5, 0.3)
    assert holding(PULL, linings, LOAD, flat(3000.0)).rpm is None
    grows = TorqueCurve((3000.0, 5000.0, 5500.0, 9000.0), (5.0, 10.0, 400.0, 410.0))
    held = holding(PULL, linings, LOAD, grows)
    assert held.rpm < 5000
    ((low, high),) = held.slips
    assert 5000 < low < 5500
    assert high == 9000.0
    at = torque(PULL, linings, LOAD, np.array([low + 50.0])).total_nm[0]
    assert at < curve_nm(grows)(low + 50.0)


def test_a_clutch_stronger_from_the_first_row_on_holds_from_there():
    held = holding(PULL, sliding(3, 63.5, 0.3), np.full(3, 20.0), CURVE)
    assert (held.rpm, held.slips) == (2000.0, ())
    assert held.margin > 1


def test_shoes_that_grab_hold_anything_from_their_touch_on():
    one = [np.full(3, v) for v in (63.5, 0.9, 1.0, 1.2, 0.03)]
    held = holding(PULL, Linings(*one), LOAD, CURVE, 5.0, 10.0)
    assert held.rpm == pytest.approx((880 / 0.0072) ** 0.5 * 30 / np.pi, abs=6)
    assert held.sd_rpm is None
    assert np.isinf(held.margin)


@given(between(500, 14000))
def test_the_curve_goes_through_its_rows_and_never_beyond_them(rpm):
    at = curve_nm(CURVE)
    assert at(np.array(CURVE.rpm)) == pytest.approx(CURVE.torque_nm)
    assert engine_nm(CURVE)(rpm * np.pi / 30) == pytest.approx(float(at(rpm)), rel=1e-12)
    inside = np.clip(rpm, CURVE.rpm[0], CURVE.rpm[-1])
    k = min(np.searchsorted(CURVE.rpm, inside, side="right"), len(CURVE.rpm) - 1)
    low, high = sorted(CURVE.torque_nm[k - 1 : k + 1])
    assert low - 1e-9 <= at(rpm) <= high + 1e-9
