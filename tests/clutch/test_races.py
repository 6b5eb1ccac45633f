"""Races until wear has moved the hookup by 100 rpm."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.clutch.drift import MOVED_RPM, Wear, races, worn_touch_rpm
from optimizer.hookup.powered import worn_a_race
from optimizer.model.running import Life
from tests.clutch.test_drift import SHOES, springs

LOST = np.full(3, 2.5)


@pytest.mark.parametrize(("drum", "lining"), [(0.01, 0.0), (0.004, 0.006), (0.0, 0.02)])
def test_after_so_many_races_the_speed_has_moved_so_far(drum, lining):
    found = races(springs(), SHOES, LOST, drum, lining, 0.3)
    n = found.races
    worn = Wear(drum_mm=n * drum, lining_mm=n * lining, lining_g_per_mm=LOST)
    moved = worn_touch_rpm(springs(), SHOES, worn).mean()
    moved -= worn_touch_rpm(springs(), SHOES, Wear()).mean()
    assert moved == pytest.approx(MOVED_RPM, rel=2e-3)
    assert found.moved_rpm == MOVED_RPM
    assert found.low < n < found.high
    # twice the wear, half the races
    twice = races(springs(), SHOES, LOST, 2 * drum, 2 * lining, 0.3)
    assert twice.races == pytest.approx(n / 2, rel=2e-3)


def test_races_end_where_a_stack_is_solid():
    found = races(springs(), SHOES, LOST, 0.05, 0.0, 0.3)
    room = 9 * 0.48 - 0.9 - 1.5
    assert found.solid == pytest.approx(room / 0.05, rel=2e-3)


def test_no_wear_no_answer_and_little_wear_says_so():
    assert races(springs(), SHOES, LOST, 0.0, 0.0, 0.3) is None
    found = races(springs(), SHOES, LOST, 1e-6, 0.0, 0.3)
    assert found.races is None
    assert found.solid is None
    assert found.rpm_per_race > 0


def test_two_measured_travels_tell_the_wear():
    life = Life(lining_wear_mm=0.004, travel_new_mm=1.42, races_run=8)
    drum, lining, doubt = worn_a_race(life, SHOES, np.full(3, 0.02))
    assert drum + lining == pytest.approx((1.5 - 1.42) / 8)
    assert lining == 0.004
    # two means of three travels, each to 0.02 mm, differ by 0.08 mm
    assert doubt == pytest.approx(0.02 * (2 / 3) ** 0.5 / 0.08)
    assert worn_a_race(replace(life, travel_new_mm=1.6), SHOES, np.full(3, 0.02))[:2] == (0, 0)
