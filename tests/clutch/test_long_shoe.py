"""Long shoes against the integrals, two published examples, and forces summed as vectors."""

from math import cos, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from optimizer.clutch.shoes import LongShoe
from tests.mechanics.strategies import between

linings = st.builds(
    LongShoe,
    between(40, 150),
    between(20, 39),
    heel=between(0, 0.9),
    toe=between(1.0, 2.8),
    turn=st.sampled_from([1.0, -1.0]),
)


@given(linings)
def test_moments_are_the_integrals_of_the_pressure(shoe):
    r, a = shoe.drum_radius_mm, shoe.pivot_radius_mm

    def along(push):
        return quad(push, shoe.heel, shoe.toe, epsabs=0, epsrel=1e-12)[0]

    assert shoe.normal == pytest.approx(along(sin), rel=1e-8)
    assert shoe.normal_moment_mm == pytest.approx(along(lambda q: a * sin(q) ** 2), rel=1e-8)
    friction = along(lambda q: sin(q) * (r - a * cos(q)))
    assert shoe.friction_moment_mm == pytest.approx(friction, rel=1e-8)


@given(linings, between(0.05, 0.25), between(1, 500))
def test_forces_on_the_lining_balance_what_opens_the_shoe(shoe, friction, moment):
    """As vectors in the plane: pivot on the x axis, lining above it, drum running past it."""
    r, a = shoe.drum_radius_mm, shoe.pivot_radius_mm
    normal = moment / shoe.arm_mm / (1 - friction * shoe.drag)
    k = normal / shoe.normal

    def closing(q):
        """Moment about the pivot that shuts the shoe, of the force on one element."""
        inwards = -k * sin(q) * np.array([cos(q), sin(q)])
        # a leading shoe meets the drum with its toe: there the drum runs towards the pivot
        drum = shoe.turn * np.array([sin(q), -cos(q)])
        force = inwards + friction * k * sin(q) * drum
        arm = np.array([r * cos(q) - a, r * sin(q)])
        return arm[0] * force[1] - arm[1] * force[0]

    held, _ = quad(closing, shoe.heel, shoe.toe, epsabs=0, epsrel=1e-11)
    assert held == pytest.approx(moment, rel=1e-8)


def test_a_published_pair_of_shoes_leading_and_trailing():
    """V. B. Bhandari, Design of Machine Elements, brakes, example 12.9, in the public Scilab
    companion of the book: drum radius 250 mm, width 50 mm, lining from 15 to 75 degrees, pivot
    200 mm from the axis, friction 0.3, at most 1 MPa; the force at 200 mm is 5025.457606 N,
    and the four shoes, two of them leading, brake with 2181614.276244 N mm."""
    lead, trail = (LongShoe(250.0, 200.0, pi / 12, 5 * pi / 12, turn) for turn in (1.0, -1.0))
    scale = 1.0 * 250 * 50 / sin(radians(75))  # k r b
    force = scale * lead.normal_moment_mm * (1 - 0.3 * lead.drag) / 200
    assert force == pytest.approx(5025.457606, rel=1e-9)
    torques = [
        0.3 * 250 * force * 200 / shoe.arm_mm / (1 - 0.3 * shoe.drag) for shoe in (lead, trail)
    ]
    assert 2 * sum(torques) == pytest.approx(2181614.276244, rel=1e-9)


def test_another_published_pair():
    """J. E. Shigley, Mechanical Engineering Design, internal shoes, example 16-2, from memory:
    drum radius 150 mm, width 32 mm, lining to 126 degrees, pivot 122.7 mm from the axis, force
    at 212 mm, friction 0.32, 1000 kPa: moments 788 and 304 N m, 2.29 kN, torques 366 and 162."""
    lead, trail = (LongShoe(150.0, 122.7, 0.0, radians(126), turn) for turn in (1.0, -1.0))
    scale = 1.0 * 150 * 32
    assert scale * lead.normal_moment_mm / 1e3 == pytest.approx(788, abs=0.6)
    assert 0.32 * scale * lead.friction_moment_mm / 1e3 == pytest.approx(304, abs=0.6)
    force = scale * lead.normal_moment_mm * (1 - 0.32 * lead.drag) / 212
    assert force == pytest.approx(2290, abs=10)
    torque = [
        0.32 * 0.150 * force * 212 / shoe.arm_mm / (1 - 0.32 * shoe.drag) for shoe in (lead, trail)
    ]
    assert torque == pytest.approx([366, 162], abs=1)


@given(between(40, 150), between(0.05, 0.5))
def test_a_far_pivot_and_a_short_lining_are_a_sliding_shoe(drum, friction):
    far = LongShoe(drum, 1e6 * drum, pi / 2 - 1e-3, pi / 2 + 1e-3, 1.0)
    gain = 1 / (1 - friction * far.drag)
    # force at the pivot's distance: all of it presses on the drum, friction has no arm
    assert 1e6 * drum / far.arm_mm * gain == pytest.approx(1.0, rel=1e-5)


@given(linings, between(0.05, 0.3))
def test_turning_the_other_way_makes_leading_trailing(shoe, friction):
    back = LongShoe(shoe.drum_radius_mm, shoe.pivot_radius_mm, shoe.heel, shoe.toe, -shoe.turn)
    assert back.drag == -shoe.drag
    assert back.arm_mm == shoe.arm_mm
    gains = sorted(1 / (1 - friction * one.drag) for one in (shoe, back))
    if friction * abs(float(shoe.drag)) < 1:
        assert gains[0] < 1 < gains[1]
