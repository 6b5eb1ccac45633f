import numpy as np
import pytest

from optimizer.mechanics.disc import discs, lever_ratio
from optimizer.mechanics.state import stresses
from tests.mechanics.reference import column, rows, sizes

# EN 16983:2016, partly from memory: rows with a printed tensile stress (all of series A)
PRINTED = [r for r in rows("en16983_discs.csv") if r["max_tensile_stress_at_0p75_mpa"]]


def test_greatest_tensile_stress_of_the_standard_rows_within_3_percent():
    d = sizes(PRINTED)
    at = stresses(d, 0.75 * d.cone_height_mm)
    ours = np.maximum(at.ii, at.iii)
    assert {r["series"] for r in PRINTED} == {"A", "B"}
    np.testing.assert_allclose(ours, column(PRINTED, "max_tensile_stress_at_0p75_mpa"), rtol=0.03)


def test_stresses_by_hand_at_a_diameter_ratio_of_two():
    # EN 16984:2016 with K1 0.694333, K2 1.2198, K3 1.3782 (K2, K3 by arithmetic on its equations)
    d = discs(20, 10, 1, 0.5)
    base = 4 * 206_000 / 0.91 / (0.694333 * 400) * 0.3
    v = 0.5 - 0.15
    at = stresses(d, 0.3)
    assert at.om == pytest.approx(-base * 3 / np.pi, rel=1e-4)
    assert at.i == pytest.approx(-base * (1.2198 * v + 1.3782), rel=1e-3)
    assert at.ii == pytest.approx(-base * (1.2198 * v - 1.3782), rel=1e-3)
    assert at.iii == pytest.approx(-base / 2 * ((1.2198 - 2.7564) * v - 1.3782), rel=1e-3)
    assert at.iv == pytest.approx(-base / 2 * ((1.2198 - 2.7564) * v + 1.3782), rel=1e-3)


def test_a_dressed_disc_is_stressed_like_a_taller_one_pressed_further():
    dressed = discs(20, 10.2, 0.9, 0.45, 0.2)
    r = lever_ratio(dressed)
    ours, same = stresses(dressed, 0.2), stresses(discs(20, 10.2, 0.9, r * 0.45), r * 0.2)
    assert (ours.om, ours.i, ours.iii) == (same.om, same.i, same.iii)
    assert ours.iii > stresses(discs(20, 10.2, 0.9, 0.45), 0.2).iii
