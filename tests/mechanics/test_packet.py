"""Nested discs: finite elements, exact inverse, active set, friction, order, load peak."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import MechanicsError
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS, en16984, thick
from optimizer.mechanics.packet import (
    LoadModel,
    compliance,
    disc_loads,
    limit_load,
    load,
    nesting_order,
    packets,
    residual_cone_height,
)
from tests.mechanics.literal import En16984, Thick, packet_load
from tests.mechanics.reference import nested, rows
from tests.mechanics.strategies import arrays, between, models, nested_discs, stacks

FE = rows("fe_packet.csv")  # finite-element study, tests/data/README.md
PRINTED = {en16984: En16984(), thick: Thick()}


FRICTIONLESS = LoadModel(en16984)


def one_packet(d, model=FRICTIONLESS):
    return packets(d, np.arange(d.od_mm.size), model)


def fe_over(law, table):
    ratios = []
    for row in table:
        p = one_packet(nested(row["discs_bottom_to_top"]), LoadModel(law))
        ratios.append(float(row["fe_load_n"]) / load(p, p.free_mm - float(row["deflection_mm"])))
    return np.array(ratios)


def working_rows(*, valley):
    return [
        r
        for r in FE
        if 0.125 <= float(r["deflection_mm"]) <= 0.375 and ("valley" in r["case"]) == valley
    ]


def test_en16984_packets_are_one_factor_from_finite_elements():
    # finite-element study, 0.25 to 0.75 of the tallest cone
    ratios = fe_over(en16984, working_rows(valley=False))
    assert ratios.size == 20
    middle = (ratios.max() + ratios.min()) / 2
    np.testing.assert_allclose(ratios / middle, 1, atol=0.03)


def test_thick_packets_meet_finite_elements_without_a_factor():
    # finite-element study: loads, and free heights within 2 um (cones nest t/cos beta apart)
    np.testing.assert_allclose(fe_over(thick, working_rows(valley=False)), 1, atol=0.017)


@pytest.mark.parametrize("law", LAWS.values())
def test_free_height_of_packets(law):
    # finite-element study: free height of every order without a valley
    for row in FE:
        p = one_packet(nested(row["discs_bottom_to_top"]), LoadModel(law))
        if "valley" not in row["case"]:
            height = float(row["packet_free_height_mm"])
            assert p.height_mm + p.free_mm == pytest.approx(height, abs=0.002)


def test_a_valley_carries_less_so_its_order_is_never_proposed():
    # finite-element study: a shorter cone between two taller ones, 0.2 to 0.85 of the sum
    ratios = fe_over(en16984, working_rows(valley=True))
    assert (ratios > 0.2).all()
    assert (ratios < 0.85).all()
    valley = nested(working_rows(valley=True)[0]["discs_bottom_to_top"]).cone_height_mm
    np.testing.assert_array_equal(valley[nesting_order(valley)], [0.5, 0.47, 0.42])


@given(st.lists(between(0.1, 2), min_size=1, max_size=3))
def test_the_nesting_order_has_no_valley(cones):
    ordered = np.array(cones)[nesting_order(np.array(cones))]
    assert sorted(cones) == sorted(ordered)
    assert all(ordered[i] >= min(ordered[i - 1], ordered[i + 1]) for i in range(1, len(cones) - 1))


def test_a_short_cone_hangs_free_until_it_is_touched():
    p = one_packet(discs(20, 10.2, 0.9, np.array([0.5, 0.42])))
    alone = one_packet(discs(20, 10.2, 0.9, np.array([0.5])))
    assert load(p, p.free_mm - 0.05) == load(alone, alone.free_mm - 0.05)
    assert disc_loads(p, p.free_mm - 0.05)[1] == 0
    assert load(p, p.free_mm - 0.2) > 1.2 * load(alone, alone.free_mm - 0.2)


@given(nested_discs(), models, between(0.001, 1))
def test_packets_are_the_sum_of_their_touching_discs(group, model, part):
    p = one_packet(arrays(group), model)
    s = part * p.free_mm
    printed = packet_load(PRINTED[model.law], group, s, model.scale(len(group)))
    assert load(p, p.free_mm - s) == pytest.approx(printed, rel=1e-8)


@given(nested_discs(), models, between(0.001, 0.999))
def test_cone_left_is_the_inverse_of_load(group, model, part):
    p = one_packet(arrays(group), model)
    x = (1 - part) * p.free_mm
    assert residual_cone_height(p, load(p, x)) == pytest.approx(x, abs=1e-10 * p.free_mm)


@given(nested_discs(), models)
def test_load_rises_as_the_cone_is_pressed(group, model):
    p = one_packet(arrays(group), model)
    assert (np.diff(load(p, np.linspace(p.free_mm, 0, 200))) > 0).all()


@given(nested_discs(), models, between(0.01, 0.99))
def test_compliance_is_the_slope_of_the_load(group, model, part):
    p = one_packet(arrays(group), model)
    x, step = (1 - part) * p.free_mm, 1e-6 * p.free_mm
    if np.abs(p.curve.free_mm - x).min() > step:  # the slope jumps where a disc is touched
        measured = -(load(p, x + step) - load(p, x - step)) / (2 * step)
        assert 1 / compliance(p, x) == pytest.approx(measured, rel=1e-5)


@given(stacks(most=4), st.lists(between(0, 0.9), min_size=4, max_size=4))
def test_many_packets_at_once_are_the_packets_one_by_one(stack, parts):
    p = stack.packets
    force = np.array(parts[: len(stack.groups)]) * limit_load(p)
    together = residual_cone_height(p, force)
    for i, group in enumerate(stack.groups):
        alone = one_packet(arrays(group), stack.model)
        assert residual_cone_height(alone, force[i]) == pytest.approx(together[i], abs=1e-12)
        assert p.take(i).free_mm == alone.free_mm


def test_the_order_of_discs_in_a_packet_does_not_matter_to_its_load():
    d = discs(20, 10.2, np.array([0.9, 0.85, 0.8]), np.array([0.5, 0.47, 0.42]))
    orders = packets(d, np.array([[0, 1, 2], [2, 0, 1], [1, 2, 0]]), LoadModel(thick))
    np.testing.assert_allclose(load(orders, np.full(3, 0.25)), load(orders, np.full(3, 0.25))[0])


@pytest.mark.parametrize(("between_discs", "edge", "n"), [(0.03, 0, 3), (0.02, 0.04, 2)])
def test_friction_on_loading(between_discs, edge, n):
    # EN 16984:2016: 1 / (1 - w_M (n-1) - w_R); spring makers: about 3 % an interface
    d = discs(20, 10.2, 0.9, np.full(n, 0.5))
    plain, rubbing = one_packet(d), one_packet(d, LoadModel(en16984, 1.0, between_discs, edge))
    raised = load(rubbing, 0.3) / load(plain, 0.3)
    assert raised == pytest.approx(1 / (1 - between_discs * (n - 1) - edge))


@pytest.mark.filterwarnings("error")
def test_places_beside_a_disc_stay_finite_whatever_the_first_disc_is():
    # the finite-thickness form of the first, small disc has no answer at the second one's cone
    d = discs(np.array([6, 60]), np.array([3, 30]), np.array([0.8, 3]), np.array([0.2, 2.5]))
    padded, alone = (packets(d, np.array(m), LoadModel(thick)) for m in ([[1, -1]], [[1]]))
    assert load(padded, np.array([2.0])) == load(alone, np.array([2.0]))


def test_an_empty_place_has_no_height_and_does_not_yield():
    p = packets(discs(20, 10.2, 0.9, np.array([0.5])), np.array([[0], [-1]]), LoadModel(thick))
    assert p.height_mm[1] == 0
    assert residual_cone_height(p, 100.0)[1] == 0
    assert load(p, np.array([0.3, 0.0]))[1] == 0


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("law", LAWS.values())
@pytest.mark.parametrize(
    ("size", "said"),
    [
        ((20, 10.2, 0.9, 0.0), "cone height > 0 mm, got 0:"),
        ((20, 10.2, -0.3, 0.5), "thickness > 0 mm, got -0.3:"),
        ((20, 10.2, 0.9, float("nan")), "cone height > 0 mm, got nan:"),
        ((10, 10.2, 0.9, 0.5), "ring width between the dressed edges > 0 mm, got -0.2:"),
        ((20, 0, 0.9, 0.5), "inside diameter > 0 mm, got 0:"),
        ((20, 10.2, 0.9, 0.5, 2.45), "ring width"),
    ],
)
def test_what_is_no_cone_is_refused(law, size, said):
    sound = (20, 10.2, 0.9, 0.5, 0.0)
    d = discs(*np.array([sound, (*size, 0.0)[:5]]).T)
    with pytest.raises(MechanicsError, match="only a cone with a ring") as error:
        packets(d, np.array([[0], [1]]), LoadModel(law))
    assert said in str(error.value)


@pytest.mark.filterwarnings("error")
def test_a_flat_too_wide_for_its_cone_is_refused():
    with pytest.raises(MechanicsError, match="too steep for so wide a flat"):
        one_packet(discs(20, 10.2, 0.9, np.array([1.2]), 2.2), LoadModel(thick))
    one_of_two = discs(20, 10.2, 0.9, [0.5, 1.2], [0.0, 2.2])
    with pytest.raises(MechanicsError, match="too steep for so wide a flat"):
        packets(one_of_two, np.array([[0], [1]]), LoadModel(thick))


@pytest.mark.parametrize("law", LAWS.values())
@pytest.mark.parametrize("steepness", [1.38, 1.42, 1.6, 2.0])
def test_a_steep_disc_stops_short_of_its_load_peak(law, steepness):
    # Almen and Laszlo, 1936: beyond h/t = sqrt 2 the load falls before flat
    p = one_packet(discs(20, 10.2, 0.5, np.array([0.5 * steepness])), LoadModel(law))
    x = np.linspace(0, float(p.free_mm), 4001)
    loads = load(p, x)
    peak = x[loads.argmax()]
    if peak > 0:
        assert p.low_mm == pytest.approx(peak + 0.1 * (p.free_mm - peak), abs=1e-3)
    else:
        assert p.low_mm == 0
    assert (np.diff(loads[x >= p.low_mm]) < 0).all()
    assert compliance(p, p.low_mm) == 0  # rigid there, though not flat
    beyond = residual_cone_height(p, 1.5 * limit_load(p))
    assert beyond == pytest.approx(p.low_mm, abs=1e-12)
