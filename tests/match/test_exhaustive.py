"""Small bags: the answer equals exhaustive enumeration on the exact mechanics."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.result import objective
from optimizer.match.solve import match
from optimizer.mechanics.packet import limit_load, packets, residual_cone_height
from optimizer.mechanics.stack import free_height, loads_below_flat
from optimizer.model.job import StackRules
from optimizer.model.pattern import Pattern, patterns
from tests.bags import plain_job, seeded_bag, seeded_task

SIZES = {"singles": (1,), "pairs": (2,), "both": (1, 2)}


def every_packet(discs: tuple[int, ...], size: int, cone: np.ndarray) -> list[tuple[int, ...]]:
    return [tuple(sorted(c, key=lambda d: -cone[d])) for c in combinations(discs, size)]


def every_stack(task: Task, pattern: Pattern) -> list[tuple[tuple[int, ...], ...]]:
    """All sets of disjoint packets with the pattern's counts, by plain recursion."""
    cone = task.discs.cone_height_mm
    every = {k: every_packet(tuple(map(int, task.usable)), k, cone) for k in (1, 2)}
    found = []

    def grow(chosen: tuple[tuple[int, ...], ...], left: tuple[int, ...], start: int) -> None:
        if not left:
            found.append(chosen)
            return
        size = left[0]
        taken = {d for packet in chosen for d in packet}
        for at in range(start, len(every[size])):
            packet = every[size][at]
            if taken.isdisjoint(packet):
                same = len(left) > 1 and left[1] == size
                grow((*chosen, packet), left[1:], at + 1 if same else 0)

    grow((), pattern.sizes, 0)
    return found


def rows(stack: tuple[tuple[int, ...], ...]) -> list[list[int]]:
    """Disc numbers of a stack as rows, -1 where there is none."""
    return [[*packet, -1, -1][:2] for packet in stack]


def allowed_loads(
    task: Task, stacks: list[tuple[tuple[int, ...], ...]]
) -> list[tuple[frozenset[int], float, float]]:
    """Discs, working and worn load of each stack that the rules allow."""
    if not stacks:
        return []
    p = packets(task.discs, np.array([rows(stack) for stack in stacks]), task.model)
    target, flat_n = task.target_n[0], limit_load(p).min(-1)
    share = (1 - residual_cone_height(p, np.full_like(p.free_mm, target)) / p.free_mm).max(-1)
    work = loads_below_flat(p, task.datum, task.travel_mm[0])
    worn = loads_below_flat(p, task.datum, task.worn_travel_mm[0])
    # one pressed solid has no load, and so is not good
    good = (share <= task.rules.deflection_limit) & (flat_n > target) & (worn < flat_n)
    good &= np.abs(work - target) <= task.load_tolerance_n
    low, high = task.rules.free_height_mm or (0.0, np.inf)
    good &= (free_height(p) >= low) & (free_height(p) <= high)
    discs = [frozenset(d for packet in stack for d in packet) for stack in stacks]
    return [(discs[k], float(work[k]), float(worn[k])) for k in np.flatnonzero(good)]


def torn(task: Task, stacks: tuple[frozenset[int], ...]) -> bool:
    """Whether discs that belong together are under different shoes, or in part in none."""
    return any(
        any(not stack.isdisjoint(group) for stack in stacks)
        and not any(stack.issuperset(group) for stack in stacks)
        for group in (group.tolist() for group in task.together)
    )


def exhaustive(task: Task) -> tuple[float, float, float] | None:
    """Least (spread, distance, worn spread) over all patterns and assignments."""
    resolution, target = task.resolution_n, task.target_n[0]

    def beyond(value: float) -> float:
        return value if value > 1.02 * resolution else resolution

    best = None
    for pattern in patterns(task.rules.packet_sizes, (1, len(task.usable) // 3)):
        loads = allowed_loads(task, every_stack(task, pattern))
        for i, (a, wa, na) in enumerate(loads):
            for j in range(i + 1, len(loads)):
                b, wb, nb = loads[j]
                if a & b:
                    continue
                both = a | b
                for c, wc, nc in loads[j + 1 :]:
                    if both & c or torn(task, (a, b, c)):
                        continue
                    work = (wa, wb, wc)
                    rank = (
                        beyond(max(work) - min(work)),
                        beyond(max(abs(w - target) for w in work)),
                        beyond(max(na, nb, nc) - min(na, nb, nc)),
                    )
                    if best is None or rank < best:
                        best = rank
    return best


@pytest.mark.parametrize("seed", range(9))
def test_small_bag_equals_exhaustive_enumeration(seed: int) -> None:
    kind = list(SIZES)[seed % 3]
    discs = {"singles": 9 + seed // 3 % 3, "pairs": 6 + seed % 3, "both": 7 + seed % 3}[kind]
    job = plain_job(
        travel_mm={"singles": 0.75, "pairs": 0.25, "both": 0.45}[kind],
        worn_mm={"singles": 0.85, "pairs": 0.29, "both": 0.5}[kind],
        target_n={"singles": 690.0, "pairs": 1360.0, "both": 720.0}[kind],
        tolerance_n={"singles": 30.0, "pairs": 80.0, "both": 120.0}[kind],
        rules=StackRules(packet_sizes=SIZES[kind]),
    )
    task = seeded_task(seeded_bag(discs, seed), job)
    expected = exhaustive(task)
    if expected is None:
        with pytest.raises(CannotBuildError):
            match(task, Limits(30))
        return
    matched = match(task, Limits(30))
    assert objective(task, matched.answer)[:3] == pytest.approx(expected, abs=1e-6)
    assert matched.proven
    assert matched.spread_bound_n == pytest.approx(matched.answer.spread_n(), abs=1e-6)


def test_groups_and_a_window_of_heights_are_kept_in_a_small_bag() -> None:
    rules = StackRules(packet_sizes=(1,), free_height_mm=(4.15, 4.2), together=(("D01", "D05"),))
    job = plain_job(0.75, 0.85, 690.0, 30.0, rules=rules)
    task = seeded_task(seeded_bag(10, 2), job)
    found = []
    for one in (task, replace(task, together=()), replace(task, rules=StackRules((1,)))):
        expected = exhaustive(one)
        assert expected is not None
        found.append(expected)
        answer = match(one, Limits(30)).answer
        assert objective(one, answer)[:3] == pytest.approx(expected, abs=1e-6)
    assert len(set(found)) == 3  # both bind


def test_the_bags_have_real_spreads() -> None:
    """The comparison above would be empty if every bag were trivially matched."""
    job = plain_job(0.75, 0.85, 690.0, 30.0, rules=StackRules(packet_sizes=(1,)))
    spreads = [
        match(seeded_task(seeded_bag(9, seed), job), Limits(30)).answer.spread_n()
        for seed in (0, 12, 24)
    ]
    assert max(spreads) > 0.445
