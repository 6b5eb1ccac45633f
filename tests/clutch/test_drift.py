"""The wear table, and the wear at which a set leaves tolerance."""

import numpy as np
import pytest

from optimizer.clutch.drift import FURTHEST_MM, Tolerance, Wear, drifts, worn_touch_rpm
from optimizer.clutch.engagement import Springs
from optimizer.clutch.shoes import Shoes
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import free_height

LEVER = np.full(3, 0.65)
SHOES = Shoes(np.full(3, 210.0), np.full(3, 52.0), np.full(3, 1.5), LEVER, LEVER)
AMOUNT = np.arange(1, 6) * 0.1


def springs(seated=False, thickness=(0.9, 0.9, 0.9)):
    """Three stacks of nine lone discs 20 x 10.2, cone 0.48 mm."""
    d = discs(20, 10.2, np.repeat(thickness, 9), 0.48)
    p = packets(d, np.arange(27).reshape(3, 9, 1), LoadModel(en16984))
    datum = Seating(27.0) if seated else Installed(free_height(p) - 0.9)
    return Springs(p, datum, np.zeros(3), np.ones(3))


def table(stacks, off=100.0, band=100.0):
    now = worn_touch_rpm(stacks, SHOES, Wear())
    wide = Tolerance(float(now.mean()), off, band)
    return {
        drift.name: drift for drift in drifts(stacks, SHOES, np.full(3, 2.5), AMOUNT, wide)
    }, now


def test_speeds_are_those_of_the_worn_clutch():
    stacks = springs()
    found, _ = table(stacks)
    at = worn_touch_rpm(stacks, SHOES, Wear(drum_mm=0.3))
    assert found["drum"].touch_rpm[2] == pytest.approx(at)
    one = worn_touch_rpm(stacks, SHOES, Wear(seat_mm=np.array([0.3, 0, 0])))
    assert found["seat, shoe 1 only"].touch_rpm[2] == pytest.approx(one)


def test_wear_of_all_shoes_alike_leaves_by_speed_and_of_one_shoe_by_the_band():
    found, now = table(springs())
    assert found["drum"].reason == found["linings"].reason == "later"
    assert found["seats"].reason == "earlier"
    assert found["bolts too tight"].reason == "later"
    assert {d.reason for name, d in found.items() if "only" in name} == {"band"}
    assert found["linings"].limit_mm < found["drum"].limit_mm
    assert found["drum"].mean_rpm[0] > now.mean()
    assert found["seats"].mean_rpm[0] < now.mean()


def test_the_limit_is_where_the_tolerance_ends():
    stacks = springs()
    found, now = table(stacks, off=80.0)
    limit = found["drum"].limit_mm
    inside = worn_touch_rpm(stacks, SHOES, Wear(drum_mm=limit - 0.002)).mean() - now.mean()
    outside = worn_touch_rpm(stacks, SHOES, Wear(drum_mm=limit)).mean() - now.mean()
    assert inside <= 80 < outside


def test_a_set_out_of_tolerance_leaves_at_once():
    found, _ = table(springs(thickness=(0.9, 0.9, 0.93)), band=10.0)
    assert {d.limit_mm for d in found.values()} == {0.0}
    assert {d.reason for d in found.values()} == {"band"}


def test_pressed_solid_is_said_and_not_computed():
    found, _ = table(springs(), off=1e9, band=1e9)
    drum = found["drum"]
    assert drum.reason == "solid"
    room = 9 * 0.48 - 0.9 - 1.5
    assert drum.limit_mm == pytest.approx(room, abs=0.01)
    assert drum.limit_mm < FURTHEST_MM
    assert found["seats"].limit_mm is None


def test_on_the_seating_datum_seats_count_until_seated_anew():
    seated, _ = table(springs(seated=True))
    installed, _ = table(springs())
    assert seated["seats"].why == installed["seats"].why + ", until seated anew"
    assert seated["drum"].why == installed["drum"].why
