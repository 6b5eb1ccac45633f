"""Springs thrown outwards, heat, and the way back."""

import numpy as np
import pytest

from optimizer.clutch.running import (
    modulus_share,
    release_share,
    stack_mass_g,
    stack_pull_kgm,
)
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel

DISC = discs(20.0, 10.2, [0.9], 0.5)


def singles(count):
    row = np.full((1, count, 3), -1)
    row[..., 0] = 0
    return row


@pytest.mark.parametrize(("radius_mm", "length_mm"), [(40.0, 12.0), (15.0, 20.0)])
def test_a_stack_passes_on_what_a_chain_of_springs_and_weights_does(radius_mm, length_mm):
    """400 weights on springs between two fixed ends, solved as linear equations."""
    n, stiffness, omega2, mass_kg = 400, 3e5, 1e5, 0.015
    at_m = (radius_mm - length_mm / 2 + length_mm * (np.arange(n) + 0.5) / n) / 1000
    thrown = mass_kg / n * at_m * omega2
    # weight k lies between spring k and spring k + 1; the half springs at the ends are stiffer
    each = np.full(n + 1, stiffness * n)
    each[[0, -1]] *= 2
    matrix = np.diag(each[:-1] + each[1:]) - np.diag(each[1:-1], 1) - np.diag(each[1:-1], -1)
    moved = np.linalg.solve(matrix, thrown)
    pushed_out = each[-1] * moved[-1]
    said = stack_pull_kgm(np.array([1000 * mass_kg]), np.array([radius_mm]), np.array([length_mm]))
    assert said[0] * omega2 == pytest.approx(pushed_out, rel=1e-4)


def test_a_disc_weighs_what_its_ring_of_steel_does():
    """EN 16983, mass of a disc: (pi/4) t rho (De^2 - Di^2)."""
    volume = 0.9 * np.pi * (10.0**2 - 5.1**2)
    assert stack_mass_g(DISC, singles(9)) == pytest.approx(9 * volume * 7.85e-3)


def test_carbon_steel_is_four_per_cent_softer_at_149_c():
    """Roark's Formulas for Stress and Strain, table of moduli at temperature: 4 % at 149 C."""
    assert modulus_share(149.0) == pytest.approx(0.96, abs=0.005)
    assert modulus_share(21.0) == modulus_share(10.0) == 1.0
    assert np.all(np.diff([modulus_share(c) for c in range(21, 260, 7)]) < 0)


def test_friction_works_the_other_way_coming_back():
    """EN 16984, single discs: 1 + w_R on the way back for 1 - w_R on the way out."""
    row = singles(9)
    for edge in (0.01, 0.05):
        share = release_share(
            DISC, row, LoadModel(en16984, edge=edge), Installed(11.5), np.array([1.5]), np.zeros(1)
        )
        assert share == pytest.approx((1 - edge) / (1 + edge))
    nested = np.array([[[0, 0, -1]] * 5])
    model = LoadModel(en16984, edge=0.02, between=0.01)
    share = release_share(DISC, nested, model, Installed(11.0), np.array([1.0]), np.zeros(1))
    assert share == pytest.approx((1 - 0.03) / (1 + 0.03))
    seated = release_share(
        DISC, row, LoadModel(en16984, edge=0.02), Seating(27.0), np.array([1.5]), np.zeros(1)
    )
    assert share[0] < seated[0] < 1
