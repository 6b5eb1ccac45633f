"""Where packets and stacks come to a border: flat, a load peak, a soft disc, a mixed packet."""

import numpy as np
import pytest

from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS, en16984, thick
from optimizer.mechanics.packet import (
    PEAK_MARGIN,
    LoadModel,
    limit_load,
    load,
    packets,
    residual_cone_height,
)
from optimizer.mechanics.sensitivity import residual_cone_gradient
from optimizer.mechanics.stack import deflection, free_height, loads_below_flat, rate
from optimizer.mechanics.state import greatest_share

#: h/t = 1.6 has a load peak (Almen and Laszlo, 1936), 0.6 has none
STEEP, PLAIN = (0.5, 0.8), (0.9, 0.54)


def nested(*sizes, law=en16984, modulus_mpa=206_000.0):
    """One packet of discs of these thicknesses and cones."""
    thickness, cone = np.array(sizes).T
    d = discs(20, 10.2, thickness, cone, modulus_mpa=modulus_mpa)
    return d, packets(d, np.arange(len(sizes))[None], LoadModel(law))


def stacked(*sizes):
    """One stack of singles, (1, P)."""
    d = discs(20, 10.2, *np.array(sizes).T)
    return packets(d, np.arange(len(sizes))[None, :, None], LoadModel(en16984))


@pytest.mark.parametrize("law", LAWS.values())
@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_lowest_place_of_a_steep_disc_lies_short_of_its_greatest_load(law, count):
    _, p = nested(*[STEEP] * count, law=law)
    x = np.linspace(0, p.free_mm[0], 20_001)
    greatest = x[np.argmax(load(p, x[:, None])[:, 0])]
    assert 0.1 < greatest < 0.7
    short = p.free_mm[0] - PEAK_MARGIN * (p.free_mm[0] - greatest)
    assert p.low_mm[0] == pytest.approx(short, abs=1e-4)


def test_one_steep_disc_bounds_its_packet():
    _, alone = nested(STEEP)
    _, plain = nested(PLAIN)
    _, both = nested(PLAIN, STEEP)
    assert plain.low_mm[0] == 0
    assert both.low_mm[0] == alone.low_mm[0] > 0


def test_a_stack_that_is_just_flat_is_told_as_flat():
    """Sizes that binary numbers hold: 1 mm thick, 0.5 mm of cone, 1 mm of room."""
    _, p = nested((1.0, 0.5))
    assert residual_cone_height(p, 1e9)[0] == 0
    flat = loads_below_flat(p, Installed(1.0), 0.0)
    assert np.isnan(flat)
    assert loads_below_flat(p, Installed(1.0), -1e-6) > 0


def test_a_stack_is_flat_as_soon_as_its_softest_packet_is():
    """A soft packet on a stiff one, pressed a little less and a little more than the soft bears."""
    soft, both = (0.5, 0.5), stacked((0.5, 0.5), PLAIN)
    bears = limit_load(stacked(soft))[0, 0]
    pressed = float(deflection(both, bears * (1 - 1e-6))[0])
    room = Installed(float(free_height(both)[0]))  # just filled at rest
    assert loads_below_flat(both, room, pressed)[0] == pytest.approx(bears, rel=1e-5)
    assert np.isnan(loads_below_flat(both, room, pressed + 1e-3)[0])


def test_each_of_many_stacks_is_pressed_by_its_own_load():
    p = stacked(PLAIN, (0.8, 0.5))
    many, force = p.take([0, 0, 0]), np.array([100.0, 300.0, 500.0])
    for what in (deflection, greatest_share, rate):
        alone = [float(what(p, each)[0]) for each in force]
        assert what(many, force) == pytest.approx(alone)
        assert len(set(alone)) == 3


def test_how_a_disc_answers_does_not_hang_on_how_soft_all_are():
    """At a load as much smaller: of steel, and ten thousand times softer."""
    for law in (en16984, thick):
        found = []
        for softer in (1.0, 1e-4):
            d, _ = nested(PLAIN, (0.91, 0.56), law=law, modulus_mpa=206_000.0 * softer)
            members = np.array([[0, 1]])
            found.append(residual_cone_gradient(d, members, LoadModel(law), 400.0 * softer))
        np.testing.assert_allclose(found[1], found[0], rtol=1e-6)
        assert (np.abs(found[0]) > 1e-3).all()


def test_only_an_installed_length_is_a_room():
    assert not Seating(27.0).has_room
    assert Installed(11.0).has_room
    assert Installed(11.0).load_n == 0
    np.testing.assert_array_equal(Seating(27.0).lengths_mm(3), [0, 0, 0])
