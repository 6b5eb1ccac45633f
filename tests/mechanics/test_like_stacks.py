"""Stacks of like discs against the same stacks put together disc by disc."""

import numpy as np
import pytest

from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.like_stacks import LikeStacks
from optimizer.mechanics.packet import LoadModel, limit_load, packets
from optimizer.mechanics.stack import free_height, stack_load
from optimizer.model.pattern import patterns

MODEL = LoadModel(en16984, 1.02, 0.02, 0.01)
DISCS = discs([18.0, 20.0], [8.2, 10.2], [1.0, 1.1], [0.4, 0.45])
KINDS = list(patterns((1, 2, 3), (2, 7)))
LIKE = LikeStacks.of(DISCS, KINDS, MODEL)


def built(disc, kind):
    """One stack (1, P, 3) of a disc, place by place."""
    members = [[disc if seat < size else -1 for seat in range(3)] for size in kind.sizes]
    return packets(DISCS, np.array([members]), MODEL)


@pytest.mark.parametrize("disc", [0, 1])
def test_what_adds_up_and_what_binds_is_that_of_every_packet(disc):
    height, limit = LIKE.free_height_mm, limit_load(LIKE.packets)
    for k, kind in enumerate(KINDS):
        one = built(disc, kind)
        assert height[disc, k] == pytest.approx(float(free_height(one)[0]))
        assert LIKE.least(limit)[disc, k] == pytest.approx(float(limit_load(one).min()))
        sizes = set(kind.sizes)
        assert LIKE.greatest(limit)[disc, k] == max(limit[disc, size - 1] for size in sizes)
    inside = LIKE.within_height((5.0, 7.0))
    assert (inside == ((height >= 5.0) & (height <= 7.0))).all()
    assert 0 < inside.sum() < inside.size


@pytest.mark.parametrize("datum", [Seating(30.0), Installed(9.0)])
def test_on_the_room_their_constants_ask_for_stacks_carry_the_load(datum):
    """The linear identity: what they add up to at 700 N is the travel or room that gives 700 N."""
    wanted = LIKE.constant_mm(700.0, datum)
    every = np.arange(len(KINDS))
    for disc in (0, 1):
        some = LIKE.stacks(disc, every)
        travel, shims = wanted[disc], 0.0
        if datum.has_room:
            travel, shims = 1.0, wanted[disc] - datum.required_travel_mm(1.0)
        assert stack_load(some, datum, travel, shims) == pytest.approx(700.0)


def test_some_stacks_are_of_the_discs_and_patterns_named():
    kind, disc = np.array([3, 9, 0]), np.array([1, 0, 1])
    some = LIKE.stacks(disc, kind)
    for row, (d, k) in enumerate(zip(disc, kind, strict=True)):
        load = stack_load(some.take([row]), Seating(30.0), 0.3)
        assert load == pytest.approx(stack_load(built(d, KINDS[k]), Seating(30.0), 0.3))
    assert LIKE.stacks(0, np.zeros(0, dtype=int)).free_mm.shape[0] == 0
