"""A start against closed forms, and its energy counted once more from its speeds alone."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import simpson

from optimizer.clutch.start import DISTANCES_M, Bite, Drive, start
from tests.mechanics.strategies import between

RPM = np.pi / 30


def constant(torque_nm):
    """A clutch that carries the same at any speed."""
    return Bite(np.zeros(1), np.array([-torque_nm]), np.ones(1))


def free(i1, i2):
    return Drive(lambda _: 0.0, np.inf, i1, i2)


@given(between(0.001, 0.1), between(0.001, 1), between(1, 80), between(50, 900), between(0, 0.9))
def test_two_inertias_and_a_constant_torque(i1, i2, torque, w1, share):
    """Closed form, any textbook on clutches: t = I1 I2 (w1-w2) / (T (I1+I2)) and
    E = I1 I2 (w1-w2)^2 / (2 (I1+I2))."""
    w2 = share * w1
    run = start(constant(torque), free(i1, i2), w1, w2, until_m=0.0, longest_s=1e4)
    assert run.lock is not None
    assert run.lock.time_s == pytest.approx(i1 * i2 * (w1 - w2) / (torque * (i1 + i2)), rel=1e-6)
    assert run.slip_j == pytest.approx(i1 * i2 * (w1 - w2) ** 2 / (2 * (i1 + i2)), rel=1e-6)
    both = (i1 * w1 + i2 * w2) / (i1 + i2)
    assert run.lock.engine_rpm * RPM == pytest.approx(both, rel=1e-6)


def kart(peak_nm=16.0, mass_kg=165.0, rolling_n=40.0, drag_m2=0.5):
    """Invented: torque that falls off on both sides of 8000 rpm."""

    def engine(w):
        return peak_nm * (1 - 0.8 * ((w / RPM - 8000) / 9000) ** 2)

    metres = 0.136 / 7
    return Drive(engine, 13000 * RPM, 0.0045, mass_kg * metres**2, metres, rolling_n, drag_m2)


def shoes(touch_rpm, pull=0.0072, grip=0.0238):
    touch = np.array(touch_rpm, dtype=float)
    return Bite(np.full(len(touch), pull), pull * (touch * RPM) ** 2, np.full(len(touch), grip))


@settings(max_examples=40)
@given(
    st.lists(between(2000, 7000), min_size=1, max_size=4),
    between(6, 30),
    between(80, 250),
    between(0.01, 0.03),
)
def test_the_energy_of_every_start_is_accounted_for(touch, peak, mass, grip):
    drive = kart(peak, mass)
    run = start(shoes(touch, grip=grip), drive, 1500 * RPM)
    assert run.unbalanced < 1e-4
    # once more, from speeds and torques alone; events cut the rows into smooth pieces
    w1, w2 = run.engine_rpm * RPM, run.drum_rpm * RPM
    kinetic = (drive.engine_kgm2 * w1**2 + drive.vehicle_kgm2 * w2**2) / 2
    power = np.array([drive.engine_nm(w) * w for w in w1])
    drag = np.array([drive.drag_nm(w) * w for w in w2])
    cuts = [0, *(np.flatnonzero(np.diff(run.time_s) <= 0) + 1), len(run.time_s)]
    for a, b in pairwise(cuts):
        if w1[a] >= drive.end_rad_s * (1 - 1e-9):  # held there by the limiter
            power[a:b] = (drag + run.slip_w)[a:b]
    total = [
        sum(simpson(flow[a:b], x=run.time_s[a:b]) for a, b in pairwise(cuts))
        for flow in (power, drag, run.slip_w)
    ]
    left = total[0] - total[1] - total[2] - (kinetic[-1] - kinetic[0])
    assert abs(left) < 1e-4 * (total[0] + kinetic[0])


def test_what_happens_comes_in_order_and_the_drum_never_overtakes():
    run = start(shoes([3300, 3350, 3400]), kart(), 1500 * RPM)
    names = [event.what for event in run.events]
    assert names[0] == "shoe 1 touches"
    assert names.index("shoe 2 touches") < names.index("shoe 3 touches")
    assert names.index("moves off") < names.index("locks up")
    assert (run.drum_rpm <= run.engine_rpm * (1 + 1e-9)).all()
    assert run.to_m[0] < run.to_m[1]
    assert run.events[-1].time_s <= run.to_m[1] + 1e-9
    far = np.interp(run.to_m, run.time_s, run.distance_m)
    assert far == pytest.approx(DISTANCES_M, rel=1e-4)


def test_equal_shoes_touch_together():
    three = start(shoes([3350] * 3), kart(), 1500 * RPM)
    one = start(shoes([3350], grip=3 * 0.0238), kart(), 1500 * RPM)
    assert three.events[0].what == "shoe 1, 2, 3 touches"
    assert three.lock.time_s == pytest.approx(one.lock.time_s, rel=1e-6)


def test_a_later_hookup_slips_longer_and_hotter():
    early, late = (start(shoes([rpm] * 3), kart(), 1500 * RPM) for rpm in (3000, 4500))
    assert late.slip_j > early.slip_j
    assert late.lock.engine_rpm > early.lock.engine_rpm
    assert late.drum_rise_k(900) == pytest.approx(late.slip_j / (0.9 * 470))


def test_a_clutch_too_weak_slips_and_one_of_no_friction_goes_nowhere():
    weak = start(shoes([3350] * 3, grip=0.0003), kart(), 1500 * RPM, longest_s=5.0)
    assert weak.lock is None
    assert weak.distance_m[-1] > 0
    none = start(shoes([3350] * 3, grip=0.0), kart(), 1500 * RPM, longest_s=5.0)
    assert none.distance_m[-1] == none.slip_j == 0
    assert none.to_m == (None, None)


def test_idle_above_the_first_touch_is_told():
    run = start(shoes([1400] * 3), kart(), 1500 * RPM)
    assert run.events[0].what == "drags at idle"


def test_a_locked_clutch_breaks_away_when_the_engine_grows_too_strong():
    """An engine whose torque steps up beyond what the clutch can carry at that speed."""
    drive = kart()
    strong = Drive(
        lambda w: 8.0 if w < 7500 * RPM else 8.0 + 0.2 * (w - 7500 * RPM),
        drive.end_rad_s, drive.engine_kgm2, drive.vehicle_kgm2, drive.metres,
    )  # fmt: skip
    run = start(shoes([3350], grip=0.0044), strong, 1500 * RPM, until_m=60.0)
    names = [event.what for event in run.events]
    assert names.index("locks up") < names.index("breaks away")
