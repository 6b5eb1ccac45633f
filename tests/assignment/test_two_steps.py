"""Packets first, then stacks: bounds hold, nothing that can be shared out is missed."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, islice, pairwise

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from optimizer.assignment.candidates import arrangements
from optimizer.assignment.columns import columns
from optimizer.assignment.descent import Descent
from optimizer.assignment.levels import levels
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.assignment.queue import Lead, Queue
from optimizer.assignment.search import misfit
from optimizer.assignment.sharing import share_first, shareable
from optimizer.assignment.two_steps import choose_packets
from optimizer.assignment.variants import variants
from tests.bags import plain_job, seeded_bag, seeded_task


def lead(count: int, seed: int) -> tuple[Task, Lead]:
    """Pose a small task and relax its most promising pattern."""
    task = seeded_task(seeded_bag(count, seed), plain_job())
    table = columns(task)
    choices = arrangements(task, table)
    queue = Queue(task, table, levels(task, table), choices, task.resolution_n / 2)
    found = queue.next(np.inf, Limits())
    assert found is not None
    assert shareable(found.frame)
    return task, found


def widened(one: Lead, factor: float) -> Lead:
    rows = tuple(replace(row, window_n=row.window_n * factor) for row in one.frame.rows)
    return replace(one, frame=replace(one.frame, rows=rows))


@pytest.mark.parametrize("seed", range(3))
def test_no_set_is_cheaper_than_the_bound_of_the_choice(seed: int) -> None:
    task, one = lead(24, seed)
    chosen, bound = choose_packets(task, one.frame, one.relaxation, Limits(), 0)
    members, size = one.frame.columns.members, one.frame.columns.size
    discs = np.array([(members == disc).any(1) for disc in range(len(task.belief))], dtype=float)
    counts = np.array(one.frame.patterns[0].counts) * task.shoes
    sizes = np.array([size == k for k in (1, 2, 3)], dtype=float)
    row = one.frame.rows[0]
    half = task.shoes * row.window_n / 2
    limits = [
        LinearConstraint(discs, -np.inf, 1),
        LinearConstraint(sizes, counts, counts),
        LinearConstraint(row.constant_n[:, 0], row.room_n.sum() - half, row.room_n.sum() + half),
    ]
    cost = one.frame.cost
    least = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        constraints=limits,
        options={"mip_rel_gap": 0.0},
    )
    assert least.status == 0
    assert one.relaxation.bound <= bound * (1 + 1e-9)
    assert bound <= least.fun * (1 + 1e-6)
    assert chosen is not None
    assert cost[chosen].sum() >= least.fun * (1 - 1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_sharing_out_finds_a_way_exactly_where_there_is_one(seed: int) -> None:
    task, one = lead(24, seed)
    frame = widened(one, (2.0, 4.0, 8.0, 16.0)[seed]).frame
    chosen, _ = choose_packets(task, frame, one.relaxation, Limits(), 0)
    assert chosen is not None
    shared = share_first(frame, chosen[None], None)
    if shared is not None:
        assert sorted(np.concatenate(shared)) == sorted(chosen)
        assert not misfit(frame, shared).any()
    assert (shared is not None) == exists(frame, chosen)


def exists(frame, chosen: np.ndarray) -> bool:
    """Whether some way to share out keeps 0.98 of every window; by plain enumeration."""
    counts = frame.patterns[0].counts
    narrow = replace(
        frame, rows=tuple(replace(row, window_n=0.98 * row.window_n) for row in frame.rows)
    )
    kinds = [chosen[frame.columns.size[chosen] == k] for k in (1, 2, 3)]

    def stacks(left: list[set[int]]) -> list[list[int]]:
        ways: list[list[int]] = [[]]
        for kind, count in zip(left, counts, strict=True):
            ways = [w + list(c) for w in ways for c in combinations(sorted(kind), count)]
        row = narrow.rows[0]
        return [
            w for w in ways if abs(row.constant_n[w, 0].sum() - row.room_n[0]) <= row.window_n / 2
        ]

    everything = [set(kind.tolist()) for kind in kinds]
    for first in stacks(everything):
        rest = [kind - set(first) for kind in everything]
        for second in stacks(rest):
            third = [column for kind in rest for column in kind - set(second)]
            if not misfit(narrow, (np.array(first), np.array(second), np.array(third))).any():
                return True
    return False


def test_variants_are_sets_of_their_own_in_order_of_variance() -> None:
    task, one = lead(30, 5)
    frame = one.frame
    chosen, _ = choose_packets(task, frame, one.relaxation, Limits(), 0)
    assert chosen is not None
    descent = Descent(task, frame)
    near = list(islice(variants(frame, descent, chosen, 1.0, np.inf), 200))
    assert len(near) > 20
    cost = [frame.cost[v].sum() for v in near[1:]]
    assert all(a <= b + 1e-9 for a, b in pairwise(cost))
    row = frame.rows[0]
    for v in near:
        members = frame.columns.members[v]
        used = members[members >= 0]
        assert len(np.unique(used)) == len(used)
        assert abs(row.constant_n[v, 0].sum() - row.room_n.sum()) <= 1.5 * row.window_n + 1e-9
        size = np.bincount(frame.columns.size[v], minlength=4)[1:]
        np.testing.assert_array_equal(size, np.array(frame.patterns[0].counts) * task.shoes)
