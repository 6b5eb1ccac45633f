"""Every disc of a stack at a load."""

import numpy as np
import pytest
from hypothesis import given

from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS, en16984, thick
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import deflection, load_at
from optimizer.mechanics.state import disc_states, greatest_share, stresses
from tests.mechanics.strategies import between, stacks


@given(stacks(), between(0.01, 0.7))
def test_discs_carry_the_load_and_their_packets_make_the_deflection(stack, part):
    p = stack.packets
    wanted = part * p.free_mm.sum()
    force = load_at(p, wanted)
    state = disc_states(stack.discs, stack.members, p, force)
    rigid = state.share.max(-1) == 1
    np.testing.assert_allclose(state.load_n.sum(-1)[~rigid], force, rtol=1e-8)
    tallest = state.deflection_mm.max(-1)
    assert tallest.sum() == pytest.approx(wanted, rel=1e-9)
    assert tallest.sum() == pytest.approx(deflection(p, force), rel=1e-9)
    assert greatest_share(p, force) == pytest.approx(state.share.max(), rel=1e-12)
    assert (state.share <= 1).all()


@pytest.mark.parametrize("law", LAWS.values())
def test_hanging_discs_and_empty_places_do_nothing(law):
    d = discs(20, 10.2, 0.9, np.array([0.5, 0.42, 0.5]))
    members = np.array([[[0, 1], [2, -1], [-1, -1]]])
    p = packets(d, members, LoadModel(law))
    state = disc_states(d, members, p, 100.0)
    idle = np.array([[[False, True], [False, True], [True, True]]])
    for numbers in (state.deflection_mm, state.share, state.load_n, state.stress.iii):
        assert numbers.shape == members.shape
        np.testing.assert_array_equal(numbers == 0, idle)


@pytest.mark.parametrize("law", LAWS.values())
def test_a_flat_disc_has_a_share_of_one_and_the_stress_of_flat(law):
    d = discs(20, 10.2, 0.9, np.array([0.5, 0.5]), 0.1)
    members = np.array([[0, 1]])
    p = packets(d, members, LoadModel(law))
    state = disc_states(d, members, p, 1e6)
    np.testing.assert_array_equal(state.share, 1)
    assert state.stress.iii[0, 0] == pytest.approx(stresses(d, 0.5).iii[0])


def test_deflection_of_a_single_disc_is_its_share_of_the_measured_cone():
    d = discs(20, 10.2, 0.9, np.array([0.5]), 0.1)
    for law in (en16984, thick):
        p = packets(d, np.array([[0]]), LoadModel(law))
        state = disc_states(d, np.array([[0]]), p, 300.0)
        assert state.deflection_mm == pytest.approx(state.share * 0.5, rel=1e-12)
