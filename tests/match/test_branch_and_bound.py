"""The least variance of a subproblem: the bound holds, and small bags equal plain enumeration."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import chain, combinations, product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from optimizer.control import Limits, Work
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation, relax
from optimizer.match.branch_and_bound import least_variance
from optimizer.match.layouts import Layouts
from optimizer.match.queue import Queue
from optimizer.match.stack_list import INSIDE, list_stacks
from optimizer.match.subproblem import Subproblem
from optimizer.model.pattern import Pattern
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.speed.cases import Kind, task_of

PLENTY, FACTOR = 10**12, 5.0


def lead(task: Task) -> Relaxation:
    """Relax the most promising pattern."""
    queue = Queue(Layouts.of(task), task.resolution_n / 2)
    found = queue.next(np.inf, Limits())
    assert found is not None
    return found


def widened(subproblem: Subproblem, factor: float) -> Subproblem:
    rows = tuple(replace(row, window_n=row.window_n * factor) for row in subproblem.rows)
    return replace(subproblem, rows=rows)


def small(seed: int, factor: float, shoes: int) -> tuple[Task, Subproblem]:
    """Pose a bag of 14 discs for two singles and a pair, windows `factor` times as wide."""
    kind = Kind("small", (1, 2), Pattern(2, 1), 0.9, 0.5, 0.76)
    three = task_of(kind, 14, seed)
    task = replace(
        three,
        target_n=three.target_n[:1].repeat(shoes),
        travel_mm=three.travel_mm[:1].repeat(shoes),
        worn_travel_mm=three.worn_travel_mm[:1].repeat(shoes),
    )
    return task, widened(lead(task).subproblem, factor)


def stacks_of(subproblem: Subproblem, shoe: int) -> list[tuple[int, ...]]:
    """All stacks of a shoe within the work window, by plain enumeration."""
    size, members = subproblem.columns.size, subproblem.columns.members
    row = subproblem.rows[0]
    kinds = [
        combinations(np.flatnonzero(size == k).tolist(), count)
        for k, count in enumerate(subproblem.patterns[shoe].counts, 1)
    ]
    found = []
    for parts in product(*kinds):
        stack = [column for part in parts for column in part]
        discs = members[stack]
        discs = discs[discs >= 0]
        off = row.constant_n[stack, shoe].sum() - row.room_n[shoe]
        if len(set(discs.tolist())) == len(discs) and abs(off) <= INSIDE * row.window_n / 2:
            found.append(tuple(stack))
    return found


def cheapest(subproblem: Subproblem, sets: Iterable[tuple[tuple[int, ...], ...]]) -> float:
    """Least variance of the sets that keep every window and take no disc twice."""
    inside = widened(subproblem, INSIDE)
    least = np.inf
    for stacks in sets:
        cost = float(subproblem.cost[list(chain.from_iterable(stacks))].sum())
        if cost < least:
            chosen = tuple(np.array(stack) for stack in stacks)
            if disjoint(subproblem, chosen) and not inside.misfit_n(chosen).any():
                least = cost
    return least


def disjoint(subproblem: Subproblem, chosen: tuple[np.ndarray, ...]) -> bool:
    discs = subproblem.columns.members[np.concatenate(chosen)]
    discs = discs[discs >= 0]
    return len(set(discs.tolist())) == len(discs)


@pytest.fixture
def thorough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look as far as it takes, and be content with nothing but the best."""
    monkeypatch.setattr("optimizer.match.branch_and_bound.LEVELS", (0.01, 0.1, 1.0, 10.0))
    monkeypatch.setattr("optimizer.match.branch_and_bound.ENOUGH", 0.0)


def solved(task: Task, subproblem: Subproblem, half_window_n: float) -> tuple[float, float]:
    """Variance of the best set and the bound on it."""
    relaxation = relax(task, subproblem, half_window_n)
    assert relaxation is not None
    found, bound = least_variance(task, relaxation, np.inf, PLENTY, Limits())
    assert found is not None
    assert disjoint(subproblem, found)
    assert not subproblem.misfit_n(found).any()
    return subproblem.variance_n2(found), bound


@pytest.mark.usefixtures("thorough")
@pytest.mark.parametrize(("seed", "shoes"), [(0, 2), (1, 2), (1, 3)])
def test_like_shoes_equal_plain_enumeration(seed: int, shoes: int) -> None:
    task, subproblem = small(seed, FACTOR, shoes)
    least = cheapest(subproblem, combinations(stacks_of(subproblem, 0), shoes))
    found, bound = solved(task, subproblem, FACTOR * task.resolution_n / 2)
    assert found == pytest.approx(least)
    assert bound == pytest.approx(least)


@pytest.mark.usefixtures("thorough")
@pytest.mark.parametrize("seed", range(3))
def test_unlike_shoes_equal_plain_enumeration(seed: int) -> None:
    task, subproblem = small(seed, FACTOR, 2)
    work, *others = subproblem.rows
    subproblem = replace(
        subproblem, rows=(replace(work, room_n=np.add(work.room_n, [0.0, 3.0])), *others)
    )
    assert not subproblem.alike
    least = cheapest(subproblem, product(stacks_of(subproblem, 0), stacks_of(subproblem, 1)))
    found, bound = solved(task, subproblem, FACTOR * task.resolution_n / 2)
    assert found == pytest.approx(least)
    assert bound == pytest.approx(least)


@pytest.mark.usefixtures("thorough")
def test_little_work_gives_a_bound_that_still_holds() -> None:
    task, subproblem = small(0, FACTOR, 3)
    half = FACTOR * task.resolution_n / 2
    relaxation = relax(task, subproblem, half)
    assert relaxation is not None
    best, _ = solved(task, subproblem, half)
    for units in (0, 10_000, 1_000_000, PLENTY):
        found, bound = least_variance(task, relaxation, np.inf, units, Limits())
        assert relaxation.bound <= bound <= best * (1 + 1e-12)
        assert found is None or subproblem.variance_n2(found) >= best * (1 - 1e-12)
    above = best * 1.0001
    found, bound = least_variance(task, relaxation, above, PLENTY, Limits())
    assert found is not None
    assert subproblem.variance_n2(found) == pytest.approx(best)
    below = best * (1 - 1e-9)
    assert least_variance(task, relaxation, below, PLENTY, Limits()) == (None, below)


@pytest.mark.parametrize("height", [None, 0.5])
def test_a_list_holds_every_stack_once(height: float | None) -> None:
    task, subproblem = small(1, FACTOR, 3)
    relaxation = relax(task, subproblem, FACTOR * task.resolution_n / 2)
    assert relaxation is not None
    every = stacks_of(subproblem, 0)
    free = np.array([subproblem.columns.free_mm[list(stack)].sum() for stack in every])
    if height is not None:
        window = float(np.quantile(free, 0.25)), float(np.quantile(free, 0.75))
        task = replace(task, rules=replace(task.rules, free_height_mm=window))
        every = [s for s, mm in zip(every, free, strict=True) if window[0] <= mm <= window[1]]
    stacks = list_stacks(task, relaxation, 0, np.inf, Work(PLENTY))
    assert stacks is not None
    assert len(every) > 20
    assert sorted(tuple(sorted(row)) for row in stacks.columns.tolist()) == sorted(
        tuple(sorted(stack)) for stack in every
    )
    part = list_stacks(task, relaxation, 0, 1.0, Work(PLENTY))
    assert part is not None
    assert len(part) == (stacks.added <= 1.0).sum()


@pytest.mark.parametrize("seed", range(4))
def test_no_set_is_cheaper_than_the_bound(seed: int) -> None:
    # HiGHS solves the same choice of packets, without the stacks: no set can cost less
    task = seeded_task(seeded_bag(24, seed), plain_job())
    one = lead(task)
    subproblem, half = one.subproblem, task.resolution_n / 2
    members, size = subproblem.columns.members, subproblem.columns.size
    discs = np.array([(members == disc).any(1) for disc in range(len(task.belief))], dtype=float)
    counts = np.array(subproblem.patterns[0].counts) * task.shoes
    sizes = np.array([size == k for k in (1, 2, 3)], dtype=float)
    row = subproblem.rows[0]
    room, reach = row.room_n.sum(), task.shoes * half
    least = milp(
        subproblem.cost,
        integrality=np.ones(len(subproblem.cost)),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(discs, -np.inf, 1),
            LinearConstraint(sizes, counts, counts),
            LinearConstraint(row.constant_n[:, 0], room - reach, room + reach),
        ],
        options={"mip_rel_gap": 0.0},
    )
    assert least.status == 0
    assert one.bound <= least.fun * (1 + 1e-9)
    found, bound = least_variance(task, one, np.inf, PLENTY // 10**4, Limits())
    assert bound >= one.bound * (1 - 1e-9)
    assert found is None or subproblem.variance_n2(found) >= least.fun * (1 - 1e-9)
