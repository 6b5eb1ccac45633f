"""Engagement speed against published worked examples, and the laws it keeps."""

import numpy as np
import pytest
from hypothesis import given

from optimizer.clutch.engagement import (
    balanced_load_n,
    first_movement_rpm,
    hookup,
    rpm_per_newton,
    speed_rpm,
)
from optimizer.units import N_PER_LBF
from tests.clutch.clutches import clutches
from tests.mechanics.strategies import between


def test_the_force_of_a_worked_example():
    # Khurmi and Gupta, A Textbook of Machine Design, from memory: with the centre of gravity
    # at 120 mm a shoe of m kg pulls 1066 m N at 900 rpm, and 600 m N at 3/4 of it
    assert round(float(balanced_load_n(1.0 * 0.120, 900))) == 1066
    assert round(float(balanced_load_n(1.0 * 0.120, 675))) == 600


@given(between(0.001, 1), between(1, 1e5), between(1.01, 9))
def test_speed_goes_with_the_square_root_of_load(pull, load, times):
    assert speed_rpm(pull, times * load) == pytest.approx(speed_rpm(pull, load) * times**0.5)


@given(between(0.001, 1), between(100, 20000))
def test_load_and_speed_are_the_reverse_of_each_other(pull, rpm):
    assert speed_rpm(pull, balanced_load_n(pull, rpm)) == pytest.approx(rpm, rel=1e-12)


def test_eight_pounds_apart_on_two_hundred_are_two_per_cent_in_speed():
    # common practice, no source: 8 lbf apart is bad, and the stiffer shoe engages later
    pull = np.full(2, 0.0072)
    load = np.array([200.0, 208.0]) * N_PER_LBF
    soft, stiff = speed_rpm(pull, load)
    assert stiff > soft
    assert stiff / soft - 1 == pytest.approx(0.02, abs=5e-4)
    near = soft + rpm_per_newton(soft, load[0]) * (load[1] - load[0])
    assert near == pytest.approx(stiff, rel=5e-4)


@given(clutches)
def test_a_shoe_moves_before_it_touches(clutch):
    springs, shoes = clutch.springs, clutch.shoes
    moves = first_movement_rpm(shoes, springs.load_n(0.0))
    touches = speed_rpm(shoes.contact_pull_kgm, springs.load_n(shoes.travel_mm))
    assert 0 < moves < touches


def test_the_band_runs_from_the_first_shoe_to_the_last():
    pull = np.array([0.0070, 0.0072, 0.0071])
    load = np.array([890.0, 889.0, 891.0])
    found = hookup(pull, load)
    assert found.band_rpm == pytest.approx(found.touch_rpm.max() - found.touch_rpm.min())
    assert found.touch_rpm.argmax() == 0  # the lightest
    assert found.touch_sd_rpm is None
    assert found.band_ninety_rpm is None


def test_the_band_of_two_equal_shoes_has_the_quantiles_of_a_normal_difference():
    # |X1 - X2| of two normals: median 0.6745, 90 % point 1.6449 times sd sqrt 2 (tables)
    found = hookup(np.full(2, 0.0072), np.full(2, 890.0), np.full(2, 9.0))
    sd = found.touch_sd_rpm[0]
    assert sd == pytest.approx(found.touch_rpm[0] * 9 / 890 / 2)
    assert found.band_rpm == 0
    assert found.band_median_rpm == pytest.approx(0.6745 * sd * 2**0.5, rel=0.02)
    assert found.band_ninety_rpm == pytest.approx(1.6449 * sd * 2**0.5, rel=0.02)


def test_the_doubt_of_the_band_is_the_same_every_time():
    args = np.full(3, 0.0072), np.array([890.0, 880.0, 891.0]), np.array([3.0, 5.0, 4.0])
    assert hookup(*args).band_ninety_rpm == hookup(*args).band_ninety_rpm
