"""Stacks: an independent solver, the identities of springs, both datums, and the limits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import MechanicsError
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS, en16984, thick
from optimizer.mechanics.packet import LoadModel, limit_load, load, packets
from optimizer.mechanics.stack import (
    deflection,
    free_height,
    load_at,
    rate,
    required_deflection,
    stack_load,
)
from tests.mechanics import literal
from tests.mechanics.strategies import arrays, between, models, nested_discs, places, stacks

PRINTED = {en16984: literal.En16984(), thick: literal.Thick()}


def singles(cones, law=en16984, thickness=0.9):
    """A stack of lone discs 20 x 10.2 with these cone heights."""
    d = discs(20, 10.2, thickness, np.array(cones))
    return packets(d, np.arange(len(cones))[:, None], LoadModel(law))


@settings(max_examples=25)
@given(stacks(least=2, most=5), between(0.05, 0.8))
def test_load_at_equals_a_general_root_finder_on_the_printed_formulas(stack, part):
    # scipy.optimize.brentq, packets inside, stack outside
    p = stack.packets
    wanted = part * p.free_mm.sum()
    scales = [stack.model.scale(len(group)) for group in stack.groups]
    checked = literal.stack_load(PRINTED[stack.model.law], stack.groups, wanted, scales)
    assert load_at(p, wanted) == pytest.approx(checked, rel=1e-9)


@given(stacks(), between(0.001, 0.999))
def test_load_at_is_the_inverse_of_deflection(stack, part):
    p = stack.packets
    wanted = part * p.free_mm.sum()
    assert deflection(p, load_at(p, wanted)) == pytest.approx(wanted, rel=1e-10)


@given(stacks(least=2, most=4), st.lists(between(0, 0.95), min_size=2, max_size=6))
def test_many_stacks_at_once_are_the_stacks_one_by_one(stack, parts):
    d, members = stack.discs, stack.members
    turned = np.stack([np.roll(members, i, axis=0) for i in range(len(parts))])
    turned[-1, 0] = -1  # one stack is a packet short
    many = packets(d, turned, stack.model)
    wanted = np.array(parts) * many.free_mm.sum(-1) * 0.9
    together = load_at(many, wanted)
    for i in range(len(parts)):
        alone = packets(d, turned[i], stack.model)
        assert load_at(alone, wanted[i]) == pytest.approx(together[i], rel=1e-9, abs=1e-9)


@given(stacks(), between(0, 0.9), st.randoms(use_true_random=False))
def test_the_order_of_packets_does_not_matter(stack, part, random):
    order = list(range(len(stack.groups)))
    random.shuffle(order)
    p = stack.packets
    wanted = part * p.free_mm.sum()
    assert load_at(p.take(order), wanted) == pytest.approx(load_at(p, wanted), rel=1e-9, abs=1e-9)


@given(stacks())
def test_load_rises_with_travel(stack):
    p = stack.packets
    wanted = np.linspace(0, 0.999, 60) * p.free_mm.sum()
    many = packets(
        stack.discs, np.broadcast_to(stack.members, (60, *stack.members.shape)), stack.model
    )
    assert (np.diff(load_at(many, wanted)) > 0).all()


@given(nested_discs(), models, st.integers(2, 9), between(0.01, 0.95))
def test_equal_packets_in_series_yield_together(group, model, count, part):
    p = packets(arrays(group), np.tile(places([group]), (count, 1)), model)
    one = p.take([0])
    force = part * limit_load(one)[0]
    assert deflection(p, force) == pytest.approx(count * deflection(one, force), rel=1e-12)
    assert rate(p, force) == pytest.approx(rate(one, force) / count, rel=1e-9)


@pytest.mark.parametrize("n", [2, 3])
def test_equal_discs_in_parallel_carry_together(n):
    one = singles([0.5])
    nest = packets(discs(20, 10.2, 0.9, np.full(n, 0.5)), np.arange(n)[None], LoadModel(en16984))
    assert load_at(nest, 0.3) == pytest.approx(n * load_at(one, 0.3), rel=1e-12)
    assert free_height(nest) == pytest.approx(0.5 + n * 0.9 + (n - 1) * 0.005, abs=0.0015 * n)


@given(stacks(), between(0.05, 0.9))
def test_rate_is_the_slope_of_load_against_travel(stack, part):
    p = stack.packets
    wanted = part * p.free_mm.sum()
    force = load_at(p, wanted)
    step = 1e-6 * wanted
    before, after = (
        (force - load_at(p, wanted - step)) / step,
        (load_at(p, wanted + step) - force) / step,
    )
    assert min(before, after) * (1 - 1e-3) <= rate(p, force) <= max(before, after) * (1 + 1e-3)


def test_rate_is_finite_without_load_and_infinite_when_solid():
    p = singles([0.5, 0.5])
    assert rate(p, 0.0) == pytest.approx(load_at(p, 1e-6) / 1e-6, rel=1e-4)
    assert rate(p, 1e6) == np.inf


def test_both_datums_mean_the_same_rest():
    p = singles([0.5, 0.49, 0.51, 0.5])
    seated = Seating(25.0)
    length = free_height(p) - deflection(p, 25.0)
    assert stack_load(p, seated, 0.0) == pytest.approx(25.0)
    assert stack_load(p, Installed(length), 0.0) == pytest.approx(25.0)
    assert stack_load(p, Installed(length), 1.2) == pytest.approx(stack_load(p, seated, 1.2))
    assert stack_load(p, seated, 1.2) == pytest.approx(load_at(p, deflection(p, 25.0) + 1.2))


def test_shims_fill_the_room_but_do_not_change_a_seated_travel():
    p = singles([0.5, 0.49, 0.51, 0.5])
    room = Installed(free_height(p) - 0.05)
    assert stack_load(p, room, 1.0, 0.1) == pytest.approx(stack_load(p, room, 1.1))
    assert required_deflection(p, room, 1.0, 0.1) == pytest.approx(1.15)
    assert stack_load(p, Seating(25.0), 1.0, 0.1) == stack_load(p, Seating(25.0), 1.0)


def test_a_stack_loose_in_its_room_carries_nothing_yet():
    p = singles([0.5, 0.49])
    assert stack_load(p, Installed(free_height(p) + 0.2), 0.1) == 0
    assert stack_load(p, Installed(free_height(p) + 0.2), 0.3) > 0


def test_a_flat_packet_is_rigid_while_the_others_yield():
    thin = discs(20, 10.2, np.array([0.5, 1.2]), np.array([0.3, 0.5]))
    p = packets(thin, np.array([[0], [1]]), LoadModel(en16984))
    soft = limit_load(p)[0]
    assert deflection(p, 2 * soft) == pytest.approx(0.3 + deflection(p.take([1]), 2 * soft))


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("law", LAWS.values())
def test_travel_past_solid_is_refused(law):
    p = singles([0.5, 0.49], law)
    with pytest.raises(MechanicsError, match=r"stack 1 solid: 0\.990 mm of deflection asked"):
        load_at(p, 0.99)
    with pytest.raises(MechanicsError, match="stack 1 solid"):
        stack_load(p, Seating(25.0), 0.98)
    with pytest.raises(MechanicsError, match="solid"):
        load_at(p, float("nan"))


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("law", LAWS.values())
def test_a_steep_disc_works_on_its_rising_branch_and_is_refused_near_its_peak(law):
    # Almen and Laszlo, 1936: h/t = 1.6 has a peak; beside a stiff disc it must not be driven
    # over that peak, though the stack as a whole still has room
    d = discs(20, 10.2, np.array([0.5, 0.9]), np.array([0.8, 0.5]))
    p = packets(d, np.array([[0], [1]]), LoadModel(law))
    steep = p.take([0])
    at = 0.4 * (steep.free_mm - steep.low_mm)[0]
    assert load_at(steep, at) == pytest.approx(load(steep, steep.free_mm - at)[0])
    ceiling = deflection(p, limit_load(steep)[0])
    assert load_at(p, ceiling - 0.001) < limit_load(steep)[0]
    assert ceiling + 0.01 < (p.free_mm - p.low_mm).sum()
    with pytest.raises(MechanicsError, match=r"past the load peak of a steep disc .*sqrt 2"):
        load_at(p, ceiling + 0.01)


@given(stacks(steepest=2.2), between(-0.5, 1.5))
def test_a_load_is_a_number_or_a_clear_refusal(stack, part):
    p = stack.packets
    wanted = part * p.free_mm.sum()
    refused = None
    try:
        force = load_at(p, wanted)
    except MechanicsError as refusal:
        refused = str(refusal)
    if refused is None:
        assert np.isfinite(force)
        assert (force > 0) == (wanted > 0)
    else:
        assert "presses stack 1" in refused
        # never before the first packet is flat, or as near its load peak as allowed
        assert wanted >= deflection(p, limit_load(p).min()) - 1e-9
