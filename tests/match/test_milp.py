"""The linear model against a general-purpose solver: scipy's HiGHS `milp`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from optimizer.control import Limits
from optimizer.estimate.problem import Task
from optimizer.match.cpsat import Assignment
from optimizer.match.layouts import Layouts
from optimizer.match.subproblem import Subproblem, subproblem
from optimizer.model.job import StackRules
from tests.bags import plain_job, seeded_bag, seeded_task


def highs(task: Task, made: Subproblem) -> tuple[bool, float]:
    """Verdict and least work spread of a subproblem, written again without the solver's code.

    Variables: one a column and stack, the lowest and highest deviation of the work row, the
    nominal of every centred row.
    """
    m, s = len(made.cost), task.shoes
    centred = [row for row in made.rows if row.centred]
    n = m * s + 2 + len(centred)
    low, high = m * s, m * s + 1
    constraints, lower, upper = [], [], []

    def add(row: np.ndarray, least: float, most: float) -> None:
        constraints.append(row)
        lower.append(least)
        upper.append(most)

    for disc in range(len(task.belief)):
        row = np.zeros(n)
        row[: m * s] = np.tile((made.columns.members == disc).any(1), s)
        add(row, 0, 1)
    for i in range(s):
        block = slice(i * m, (i + 1) * m)
        for size in (1, 2, 3):
            row = np.zeros(n)
            row[block] = made.columns.size == size
            add(row, made.patterns[i].counts[size - 1], made.patterns[i].counts[size - 1])
        work = made.rows[0]
        half = work.window_n / 2
        row = np.zeros(n)
        row[block] = work.constant_n[:, i]
        add(row, work.room_n[i] - half, work.room_n[i] + half)
        for bound, least, most in ((low, 0, np.inf), (high, -np.inf, 0)):
            tied = row.copy()
            tied[bound] = -1
            add(tied, work.room_n[i] + least, work.room_n[i] + most)
        for at, one in enumerate(centred):
            row = np.zeros(n)
            row[block] = one.constant_n[:, i]
            row[m * s + 2 + at] = -1
            add(row, one.room_n[i], one.room_n[i] + one.window_n)
    cost = np.zeros(n)
    cost[high], cost[low] = 1, -1
    kind = np.r_[np.ones(m * s), np.zeros(n - m * s)]
    box = Bounds(
        np.r_[np.zeros(m * s), np.full(n - m * s, -1e9)],
        np.r_[np.ones(m * s), np.full(n - m * s, 1e9)],
    )
    answer = milp(
        cost,
        integrality=kind,
        bounds=box,
        constraints=LinearConstraint(np.array(constraints), lower, upper),
        options={"time_limit": 20.0, "mip_rel_gap": 0.05},
    )
    return answer.x is not None, float(answer.fun) if answer.x is not None else np.inf


@pytest.mark.parametrize("seed", range(8))
def test_same_verdict_and_no_worse_spread_than_highs(seed: int) -> None:
    discs = 9 + seed % 5
    window = (4.0, 12.0)[seed % 2]
    job = plain_job(0.75, 0.85, 690.0, 30.0, rules=StackRules(packet_sizes=(1,), discs=(3, 4)))
    task = seeded_task(seeded_bag(discs, seed), job)
    task = replace(task, resolution_n=window)
    layouts = Layouts.of(task)
    made = subproblem(layouts, layouts.choices[0])
    assert made is not None
    possible, spread = highs(task, made)
    model = Assignment(task, made, np.arange(len(made.cost)))
    model.within_rows()
    model.least_spread()
    verdict = model.solve(Limits(30), 30.0, 0)
    assert verdict.impossible != possible
    assert (verdict.chosen is not None) == possible
    if verdict.chosen is not None:
        row = made.rows[0]
        at = [row.constant_n[c, i].sum() - row.room_n[i] for i, c in enumerate(verdict.chosen)]
        # integers of a millinewton, ten packets at most a stack, and HiGHS' gap of 5 %
        assert np.ptp(at) <= spread + 0.02


def test_the_twenty_bags_hold_both_verdicts() -> None:
    verdicts = set()
    for seed in range(8):
        job = plain_job(0.75, 0.85, 690.0, 30.0, rules=StackRules(packet_sizes=(1,), discs=(3, 4)))
        task = seeded_task(seeded_bag(9 + seed % 5, seed), job)
        task = replace(task, resolution_n=(4.0, 12.0)[seed % 2])
        layouts = Layouts.of(task)
        made = subproblem(layouts, layouts.choices[0])
        assert made is not None
        model = Assignment(task, made, np.arange(len(made.cost)))
        model.within_rows()
        verdicts.add(model.solve(Limits(30), 30.0, 0).impossible)
    assert verdicts == {True, False}
