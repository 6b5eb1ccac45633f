import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, nesting_order, packets
from optimizer.report.section import disc_outline, stack_section


def surfaces(section, radius):
    """Lowest and highest point of a disc at a radius, by walking round its outline."""
    at = []
    corners = section.outline
    for (r1, z1), (r2, z2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if min(r1, r2) <= radius <= max(r1, r2) and r1 != r2:
            at.append(z1 + (radius - r1) / (r2 - r1) * (z2 - z1))
    return min(at), max(at)


def test_a_sharp_disc_has_four_corners_and_its_overall_height():
    outline, flats = disc_outline(10, 5.1, 0.9, 0.5, 0)
    assert outline == ((10, 0), (10, 0.9), (5.1, 1.4), (5.1, 0.5))
    assert flats == ()


def test_a_dressed_disc_rests_on_flats_of_the_given_width():
    outline, (foot, head) = disc_outline(10, 5.1, 0.9, 0.5, 0.2)
    assert foot == ((9.8, 0), (10, 0))
    assert head == ((5.1, 1.4), (pytest.approx(5.3), 1.4))
    assert max(z for _, z in outline) == 1.4
    assert min(z for _, z in outline) == 0
    # between the flats the faces are t apart along the axis, and the cone rises by h
    section = type("S", (), {"outline": outline})
    low, high = surfaces(section, 7.5)
    assert high - low == pytest.approx(0.9)
    assert low == pytest.approx(0.5 * (9.8 - 7.5) / (9.8 - 5.3))


def test_discs_face_alternately_the_first_on_its_outer_edge():
    d = discs([20.0] * 3, 10.2, 0.9, 0.5)
    section = stack_section(d, np.arange(3)[:, None], np.full(3, 1.4))
    assert [s.outer_down for s in section.discs] == [True, False, True]
    for s in section.discs:
        outer = min(z for r, z in s.outline if r == 10)
        inner = min(z for r, z in s.outline if r == 5.1)
        assert (outer < inner) == s.outer_down


def test_shims_lift_the_stack_and_are_not_part_of_its_height():
    d = discs([20.0] * 2, 10.2, 0.9, 0.5)
    section = stack_section(d, np.arange(2)[:, None], np.full(2, 1.4), (0.3, 0.1))
    assert [(p.base_mm, p.thickness_mm) for p in section.shims] == [(0, 0.3), (0.3, 0.1)]
    foot_mm = min(z for _, z in section.discs[0].outline)
    assert foot_mm == pytest.approx(0.4)
    assert section.top_mm - foot_mm == pytest.approx(2.8)


sizes = st.lists(
    st.tuples(st.floats(0.5, 1.5), st.floats(0.2, 0.6), st.sampled_from([0.0, 0.15])),
    min_size=1,
    max_size=3,
)


@given(st.lists(sizes, min_size=1, max_size=4))
def test_stacks_are_as_high_as_the_mechanics_say_and_no_disc_is_inside_another(hands):
    flat_list = [disc for hand in hands for disc in hand]
    t, h, w = (np.array(v) for v in zip(*flat_list, strict=True))
    d = discs(20.0, 10.2, t, h, w)
    stack, start = [], 0
    for hand in hands:
        places = np.arange(start, start + len(hand))
        stack.append(tuple(places[nesting_order(h[places])]))
        start += len(hand)
    members = np.full((len(stack), 3), -1)
    for row, packet in zip(members, stack, strict=True):
        row[: len(packet)] = packet
    p = packets(d, members, LoadModel(en16984))
    height = p.height_mm + p.free_mm
    section = stack_section(d, members, height)
    assert section.top_mm == pytest.approx(height.sum())
    assert max(z for s in section.discs for _, z in s.outline) == pytest.approx(height.sum())
    for lower, upper in zip(section.discs, section.discs[1:], strict=False):
        for radius in np.linspace(5.1001, 9.9999, 9):
            # heights are told apart at the rims: a sharp cone may cut into a flat below it by
            # h w / (ring width), here up to 0.02 mm
            assert surfaces(upper, radius)[0] >= surfaces(lower, radius)[1] - 0.03
