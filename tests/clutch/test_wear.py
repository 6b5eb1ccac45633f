"""The sign of each kind of wear, on random clutches."""

import numpy as np
import pytest
from hypothesis import given

from optimizer.clutch.drift import Wear, worn_shoes, worn_touch_rpm
from optimizer.clutch.engagement import first_movement_rpm, speed_rpm
from optimizer.clutch.shoes import Shoes
from tests.clutch.clutches import clutches


def speed(clutch, **wear):
    return float(worn_touch_rpm(clutch.springs, clutch.shoes, Wear(**wear))[0])


@given(clutches)
def test_a_worn_drum_is_later(clutch):
    assert speed(clutch, drum_mm=clutch.slight_mm) > speed(clutch)


@given(clutches)
def test_a_worn_seat_is_earlier(clutch):
    assert speed(clutch, seat_mm=clutch.slight_mm) < speed(clutch)


@given(clutches)
def test_bolts_too_tight_are_later(clutch):
    assert speed(clutch, tightened_mm=clutch.slight_mm) > speed(clutch)


@given(clutches)
def test_a_worn_lining_is_later_through_travel_and_again_through_mass(clutch):
    worn = clutch.slight_mm
    lost = 0.01 * clutch.mass_g / worn  # one per cent of the mass
    travel_alone = speed(clutch, lining_mm=worn)
    assert travel_alone == pytest.approx(speed(clutch, drum_mm=worn), rel=1e-12)
    both = speed(clutch, lining_mm=worn, lining_g_per_mm=lost)
    assert both == pytest.approx(travel_alone / 0.99**0.5, rel=1e-9)
    assert both > travel_alone > speed(clutch)


@given(clutches)
def test_seat_and_bolt_cancel_and_drum_and_lining_add(clutch):
    worn = clutch.slight_mm
    assert speed(clutch, seat_mm=worn, tightened_mm=worn) == pytest.approx(speed(clutch))
    together = speed(clutch, drum_mm=worn, lining_mm=worn)
    assert together == pytest.approx(speed(clutch, drum_mm=2 * worn), rel=1e-12)


@given(clutches)
def test_preload_moves_first_movement_and_a_worn_drum_does_not(clutch):
    def moves(wear):
        shoes = worn_shoes(clutch.shoes, wear)
        return first_movement_rpm(shoes, clutch.springs.load_n(wear.preload_mm))

    now = moves(Wear())
    assert moves(Wear(seat_mm=clutch.slight_mm)) < now
    assert moves(Wear(tightened_mm=clutch.slight_mm)) > now
    assert moves(Wear(drum_mm=clutch.slight_mm)) == now


def test_each_shoe_wears_by_itself():
    shoes = Shoes(np.full(3, 210.0), np.full(3, 52.0), np.full(3, 1.5), np.ones(3), np.ones(3))
    worn = worn_shoes(shoes, Wear(lining_mm=np.array([0, 0.2, 0]), lining_g_per_mm=2.5))
    assert worn.travel_mm == pytest.approx([1.5, 1.7, 1.5])
    assert worn.mass_g == pytest.approx([210, 209.5, 210])
    speeds = speed_rpm(worn.contact_pull_kgm, 890.0)
    assert speeds[0] == speeds[2] != speeds[1]


@given(clutches)
def test_travel_beyond_solid_has_no_speed(clutch):
    solid = float(clutch.stack.packets.free_mm.sum())
    assert worn_touch_rpm(clutch.springs, clutch.shoes, Wear(drum_mm=solid)) is None
