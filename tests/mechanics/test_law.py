"""One disc against the standard's tables, the published curve and finite elements."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984, thick
from optimizer.mechanics.packet import LoadModel, load, packets
from optimizer.units import MM_PER_IN, N_PER_LBF
from tests.mechanics.literal import Disc, En16984, Thick, en_formula, packet_load
from tests.mechanics.reference import column, rows, sizes
from tests.mechanics.strategies import arrays, between

STANDARD = rows("en16983_discs.csv")  # EN 16983:2016, partly from memory, see its provenance
FE = rows("fe_single.csv")  # finite-element study, tests/data/README.md


def single_loads(law, d, deflection_mm):
    """Load of every disc of `d` alone, at its own deflection."""
    alone = packets(d, np.arange(d.od_mm.size)[:, None], LoadModel(law))
    return load(alone, alone.free_mm - deflection_mm)


def test_every_standard_row_within_2_percent_at_three_quarters():
    d = sizes(STANDARD)
    ours = single_loads(en16984, d, 0.75 * d.cone_height_mm)
    np.testing.assert_allclose(ours, column(STANDARD, "load_at_0p75_n"), rtol=0.02)


def test_every_standard_row_within_0p6_percent_at_the_rounded_deflection():
    # the older editions round the deflection to 0.01 mm first; loads are printed whole
    d = sizes(STANDARD)
    hundredths = np.round(75 * d.cone_height_mm, 6)
    printed = column(STANDARD, "load_at_0p75_n")
    off = np.min(
        [
            np.abs(single_loads(en16984, d, rounded(hundredths) / 100) - printed)
            for rounded in (np.floor, np.ceil)
        ],
        axis=0,
    )
    half_a_newton = STANDARD.index(
        next(r for r in STANDARD if (r["series"], r["od_mm"]) == ("C", "8"))
    )
    within = off <= 0.006 * printed
    within[half_a_newton] |= off[half_a_newton] <= 0.5  # 38.7 is printed as 39
    assert within.all()


def test_published_seven_points_with_the_one_illegible_height():
    # Sloan Digital Sky Survey Technical Note 19970402. Its cone height cannot be read: one
    # value near 0.0343 in must give all seven points within 0.1 % and the pair within 1.5 %.
    points_lbf = [51.034, 99.233, 144.775, 187.837, 228.596, 267.229, 303.913]
    travel_in = np.arange(0.002, 0.015, 0.002)

    def disc_of(height_in):
        return discs(1.102 * MM_PER_IN, 0.5 * MM_PER_IN, 1.25, height_in * MM_PER_IN)

    def worst(height_in):
        d = disc_of(np.full(7, height_in))
        ours = single_loads(en16984, d, travel_in * MM_PER_IN) / N_PER_LBF
        return np.abs(ours / points_lbf - 1).max()

    height_in = min(np.arange(0.0338, 0.0348, 1e-5), key=worst)
    assert height_in == pytest.approx(0.0343, abs=1e-4)
    assert worst(height_in) < 0.001
    pair = packets(disc_of(np.full(2, height_in)), np.arange(2), LoadModel(en16984))
    pair_lbf = load(pair, pair.free_mm - 0.026 * MM_PER_IN) / N_PER_LBF
    assert pair_lbf == pytest.approx(972, rel=0.015)


def test_curve_is_level_at_flat_when_steepness_is_root_two():
    # Almen and Laszlo, Trans. ASME 58, 1936
    c = en16984(discs(20, 10, 1, np.sqrt(2)), np.array(1.0))
    assert c.p == pytest.approx(0, abs=1e-12 * c.q)
    assert c.a > 0


@given(between(0.1, 2.5), between(0, 1))
def test_curve_is_antisymmetric_about_flat(steepness, part):
    # Almen and Laszlo, 1936: F(h + y) + F(h - y) = 2 F(h), past flat as well
    y = part * steepness
    upper, lower, flat = (
        en_formula(20, 10, 1, steepness, s, 206_000, 0.3)
        for s in (steepness + y, steepness - y, steepness)
    )
    assert upper + lower == pytest.approx(2 * flat, rel=1e-12)
    c = en16984(discs(20, 10, 1, steepness), np.array(1.0))
    assert c.q + c.p * y + c.a * y**3 == pytest.approx(upper, rel=1e-9, abs=1e-9 * c.q)
    assert c.q - c.p * y - c.a * y**3 == pytest.approx(lower, rel=1e-9, abs=1e-9 * c.q)


@pytest.mark.parametrize(("law", "printed"), [(en16984, En16984()), (thick, Thick())])
@given(
    between(0.3, 1.3), between(1.5, 2.5), st.sampled_from([0.0, 0.1, 0.2, 0.4]), between(0.01, 1)
)
def test_laws_are_the_printed_formulas(law, printed, steepness, ratio, flat, part):
    row = Disc(20, 20 / ratio, 0.9, 0.9 * steepness, flat, nu=0.28, factor=1.02)
    s = part * printed.free(row, 1)
    ours = single_loads(law, arrays([row]), s)
    assert ours == pytest.approx(packet_load(printed, [row], s), rel=1e-9)


def working_rows(widest_flat):
    """Finite-element rows from 0.25 to 0.75 of the cone height with flats up to a width."""
    return [
        r
        for r in FE
        if 0.249 < float(r["deflection_mm"]) / float(r["cone_height_mm"]) < 0.7501
        and float(r["flat_mm"]) <= widest_flat
    ]


def fe_over(law, table):
    return column(table, "fe_load_n") / single_loads(
        law, sizes(table), column(table, "deflection_mm")
    )


def spread_about_one_factor(ratios):
    """Largest distance from the best common factor, as a part of it."""
    return (ratios.max() - ratios.min()) / (ratios.max() + ratios.min())


def test_en16984_is_one_factor_from_finite_elements():
    # finite-element study: h/t 0.56 and 0.78 within 1.5 %, steep cones of h/t 1.33 1.9 %
    table = working_rows(0.2)
    gentle = [r for r in table if float(r["cone_height_mm"]) < float(r["thickness_mm"])]
    assert len(table) == 25
    assert len(gentle) == 20
    assert spread_about_one_factor(fe_over(en16984, gentle)) < 0.015
    assert spread_about_one_factor(fe_over(en16984, table)) < 0.019


def test_wide_flats_keep_the_factor_and_ignoring_them_misses_by_half():
    # finite-element study: the factor of sharp discs within 1.5 %, 50 % off without the lever arm
    wide = [r for r in working_rows(0.4) if float(r["flat_mm"]) == 0.4]
    sharp = [r for r in working_rows(0.0) if r["od_mm"] == "20"]
    ratios = fe_over(en16984, wide)
    np.testing.assert_allclose(ratios / fe_over(en16984, sharp), 1, atol=0.015)
    ignored = fe_over(en16984, [{**r, "flat_mm": "0"} for r in wide])
    np.testing.assert_allclose(ignored / ratios, 1.47, atol=0.04)


def test_thick_meets_every_single_disc_row_without_a_factor():
    # finite-element study, up to 0.75 h
    table = [r for r in FE if float(r["deflection_mm"]) <= 0.7501 * float(r["cone_height_mm"])]
    assert len(table) == 36
    np.testing.assert_allclose(fe_over(thick, table), 1, atol=0.017)
