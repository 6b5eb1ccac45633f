"""Pivoted shoes of a job: speed by moments about the pivot, torque by the long shoe."""

from math import atan2, cos, hypot, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from scipy.optimize import brentq

from optimizer.clutch.engine import torque
from optimizer.clutch.shoes import LongShoe, linings_of, shoes_of
from optimizer.model.job import Job
from optimizer.model.shoe import Shoe
from tests.bags import exact_shoe, plain_job
from tests.io.job.files import SMALL, complaints, job_of
from tests.mechanics.strategies import between

PIVOTED = SMALL.replace(
    "travel_mm = 1.5",
    "travel_mm = 1.5\nshoe_mass_g = 210\ncg_radius_mm = 52\ndrum_radius_mm = 63.5\nfriction = 0.3\n"
    'shoe_type = "leading"\npivot_radius_mm = 40\narm_stack_mm = 45\ncg_angle = 40\n'
    "heel_angle = 20\ntoe_angle = 95",
)


def job(shoe: Shoe) -> Job:
    return plain_job(shoes=1).__class__(**{**vars(plain_job(shoes=1)), "shoes": (shoe,)})


def pivoted(a=40.0, r=52.0, angle=40.0, arm=45.0, turn="leading", travel=1.5, friction=0.3):
    return exact_shoe(
        travel, travel, mass_g=210.0, cg_radius_mm=r, drum_radius_mm=63.5, friction=friction,
        arm_centre_mm=a * sin(radians(angle)), arm_stack_mm=arm, type=turn, pivot_radius_mm=a,
        cg_angle=angle, heel_angle=20.0, toe_angle=95.0,
    )  # fmt: skip


@given(between(25, 60), between(30, 60), between(20, 110), between(30, 60), between(200, 2000))
def test_the_speed_is_where_moments_about_the_pivot_balance(a, r, angle, arm, load):
    """The centre of gravity swung about the pivot as a point in the plane."""
    swung = 1.5 / arm
    x, y = r * cos(radians(angle)) - a, r * sin(radians(angle))
    way = hypot(x, y)
    turned = atan2(y, x) - swung  # towards the drum: away from the side of the axis
    at = np.array([a + way * cos(turned), way * sin(turned)])

    def moment(rpm):
        thrown = 0.210 * at / 1000 * (rpm * pi / 30) ** 2  # outwards, along the radius
        return -((at[0] - a) * thrown[1] - at[1] * thrown[0]) - load * arm

    touch = brentq(moment, 1, 1e6)
    pull = shoes_of(job(pivoted(a, r, angle, arm))).contact_pull_kgm
    assert (load / pull[0]) ** 0.5 * 30 / pi == pytest.approx(touch, rel=2e-3)
    small = shoes_of(job(pivoted(a, r, angle, arm, travel=1e-6))).contact_pull_kgm
    assert small[0] == pytest.approx(a * sin(radians(angle)) / arm * 0.210 * r / 1000, rel=1e-6)


def test_torque_is_that_of_the_long_shoe_and_the_moment_left_over():
    for turn, sign in (("leading", 1.0), ("trailing", -1.0)):
        one = job(pivoted(turn=turn))
        pull, linings = shoes_of(one).contact_pull_kgm, linings_of(one)
        told = torque(pull, linings, np.array([890.0]), np.array([5000.0]))
        moment = (pull[0] * (5000 * pi / 30) ** 2 - 890.0) * 45.0
        shoe = LongShoe(63.5, 40.0, radians(20), radians(95), sign)
        held = shoe.normal_moment_mm - sign * 0.3 * shoe.friction_moment_mm
        assert told.total_nm[0] == pytest.approx(0.3 * 0.0635 * shoe.normal / held * moment)


def test_doubt_of_friction_is_that_of_torque_at_a_little_more_friction():
    less, more = (job(pivoted(friction=f)) for f in (0.299, 0.301))
    pull, load, rpm = shoes_of(less).contact_pull_kgm, np.array([890.0]), np.array([5000.0])
    low, high = (torque(pull, linings_of(j), load, rpm).total_nm[0] for j in (less, more))
    told = torque(pull, linings_of(job(pivoted())), load, rpm)
    assert told.total_sd_nm[0] == pytest.approx(0.03 * (high - low) / 0.002, rel=1e-3)
    both = torque(pull, linings_of(job(pivoted())), load, rpm, 5.0, 20.0)
    grip = linings_of(job(pivoted())).grip_m[0]
    by_hand = (told.total_sd_nm[0] ** 2 + (grip * 5.0) ** 2 + (grip * 20.0) ** 2) ** 0.5
    assert both.total_sd_nm[0] == pytest.approx(by_hand)


def test_without_friction_no_torque_and_with_too_much_it_grabs():
    rpm, load = np.array([3000.0, 9000.0]), np.array([890.0])
    slick = job(pivoted(friction=0.0))
    pull = shoes_of(slick).contact_pull_kgm
    assert (torque(pull, linings_of(slick), load, rpm).total_nm == 0).all()
    at = linings_of(slick).grabs_at[0]
    grabs = linings_of(job(pivoted(friction=1.01 * at)))
    assert np.isinf(grabs.gain[0])
    told = torque(pull, grabs, load, rpm)
    assert told.total_nm[0] == 0
    assert np.isinf(told.total_nm[1])
    assert np.isinf(linings_of(job(pivoted(turn="trailing"))).grabs_at[0])


def test_a_job_says_how_its_shoes_swing(tmp_path):
    read = job_of(tmp_path, PIVOTED)
    assert read.shoes[0].arm_centre_mm == pytest.approx(40 * sin(radians(40)))
    assert linings_of(read).gain[0] > 1
    other = '[[clutch.shoe]]\nshoe_type = "trailing"\n[datum]'
    mixed = linings_of(job_of(tmp_path, PIVOTED.replace("[datum]", other)))
    assert mixed.gain[0] < 1 < mixed.gain[1]
    slides = job_of(
        tmp_path, PIVOTED.replace('"leading"', '"sliding"').replace("arm_stack_mm = 45\n", "")
    )
    assert linings_of(slides).gain.tolist() == [1.0, 1.0, 1.0]
    assert any("have no effect without shoe_type" in note for note in slides.notes)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("pivot_radius_mm = 40\n", "", "found no pivot_radius"),
        ("arm_stack_mm = 45\n", "", "found no arm_stack"),
        ("heel_angle = 20", "heel_angle = 99", "Expected heel_angle < toe_angle"),
        ("pivot_radius_mm = 40", "pivot_radius_mm = 64", "Expected the pivot inside the drum"),
        ("cg_angle = 40", "cg_angle = 40\narm_centre_mm = 20", "Expected no arm_centre"),
        ('"leading"', '"leadign"', 'Did you mean "leading"?'),
        ("cg_angle = 40", "cg_angle = 200", "Expected cg_angle > 0 and < 180, got 200"),
    ],
)  # fmt: skip
def test_slips_in_the_geometry_are_told(tmp_path, old, new, says):
    told = complaints(tmp_path, PIVOTED.replace(old, new))
    assert any(says in line for line in told), told
