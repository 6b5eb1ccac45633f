"""Linear relaxation of a subproblem: a bound on the variance, or a proof that nothing fits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

# the part that the public model_builder wraps: that one loads pandas (0.2 s) and hands out
# shares one by one, which takes a relaxation 1.8 times as long
from ortools.linear_solver.python.model_builder_helper import (
    ModelBuilderHelper,
    ModelSolverHelper,
    SolveStatus,
)
from scipy.sparse import csr_matrix, vstack

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.subproblem import Subproblem
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: a row of a linear programme: variables, their factors, and what the sum lies between
Row = tuple[Index, Array, float, float]


@dataclass(frozen=True)
@frozen_arrays
class Relaxation:
    """A subproblem with the least variance in N^2 that any set of it can have, over all stacks.

    `groups` are the shoes, in order, whose stacks could change places; `added` (G, M) is what using
    a column in each of the G groups adds at least: columns that together add more than the gap
    between an answer and the bound are in no better answer. `share` (M) is how much of each column
    the relaxed assignment takes.
    """

    subproblem: Subproblem
    bound: float
    groups: tuple[tuple[int, ...], ...]
    added: Array
    share: Array

    @property
    def reduced(self) -> Array:
        """What a column (M) adds wherever it goes."""
        least: Array = self.added.min(0)
        return least


def relax(task: Task, subproblem: Subproblem, half_window_n: float) -> Relaxation | None:
    """Relax the assignment to shares of packets; None when even that cannot be done.

    Parameters
    ----------
    half_window_n : how far every stack may be from its target, in N of the work row

    Notes
    -----
    Where all stacks are alike they are summed into one group, which loses nothing that a bound
    needs; elsewhere each is by itself. The rows: each disc at most once (just once where it must
    be used), packets of each size, work room, free height.
    """
    every = tuple(range(task.shoes))
    groups = (every,) if subproblem.alike else tuple((shoe,) for shoe in every)
    m = len(subproblem.cost)
    rows: list[Row] = []

    def ask(some: Iterable[int], values: ArrayLike, low: float, high: float) -> None:
        """Ask the sum of `values` (M) over the shares in some groups to lie between two."""
        values = np.asarray(values, dtype=np.float64)
        at = np.flatnonzero(values)
        index = [at + m * group for group in some]
        rows.append((np.concatenate(index), np.tile(values[at], len(index)), low, high))

    member = subproblem.columns.members
    for disc in range(len(task.belief)):
        held = (member == disc).any(1)
        ask(range(len(groups)), held, 1.0 if disc in task.use else -np.inf, 1.0)
    for at, group in enumerate(groups):
        stacks = list(group)
        count = len(stacks)
        for size in (1, 2, 3):
            packets = sum(subproblem.patterns[i].counts[size - 1] for i in stacks)
            ask([at], subproblem.columns.size == size, packets, packets)
        work = subproblem.rows[0]
        room, reach = work.room_n[stacks].sum(), count * half_window_n
        ask([at], work.constant_n[:, stacks[0]], room - reach, room + reach)
        if task.rules.free_height_mm is not None:
            low, high = task.rules.free_height_mm
            ask([at], subproblem.columns.free_mm, count * low, count * high)
    scale = max(float(np.median(subproblem.cost)), 1e-12)
    answer = _least(rows, np.tile(subproblem.cost / scale, len(groups)))
    if answer is None:
        return None
    cost, share, reduced = answer
    added = np.maximum(reduced * scale, 0.0).reshape(-1, m)
    return Relaxation(subproblem, cost * scale, groups, added, share.reshape(-1, m).sum(0))


def _least(rows: list[Row], cost: Array) -> tuple[float, Array, Array] | None:
    """Minimise the cost of shares of at least 0, one a variable, that keep the rows.

    Returns the least cost, the shares and their reduced costs; None where no shares do.
    """
    index, value, low, high = (list(each) for each in zip(*rows, strict=True))
    ends = np.concatenate([[0], np.cumsum([len(at) for at in index])])
    shape = len(rows), len(cost)
    every = csr_matrix((np.concatenate(value), np.concatenate(index), ends), shape)
    bottom, top = np.array(low, dtype=np.float64), np.array(high, dtype=np.float64)
    # each disc at most once keeps the shares below 1
    floor, ceiling = np.zeros(len(cost)), np.full(len(cost), np.inf)
    programme: Any = ModelBuilderHelper()  # its types tell dtypes where shapes belong
    programme.fill_model_from_sparse_data(floor, ceiling, cost, bottom, top, every)
    solver = ModelSolverHelper("glop")
    solver.solve(programme)
    status = solver.status()
    if status == SolveStatus.OPTIMAL:
        shares = np.array(solver.variable_values())
        return solver.objective_value(), shares, np.array(solver.reduced_costs())
    if status == SolveStatus.INFEASIBLE:
        return None
    return _again(cost, every, bottom, top)


def _again(
    cost: Array, every: csr_matrix, low: Array, high: Array
) -> tuple[float, Array, Array] | None:
    """The same by another solver, where the first one cannot tell."""
    from scipy.optimize import linprog  # takes half a second to import

    above, below = np.flatnonzero(high < np.inf), np.flatnonzero(low > -np.inf)
    answer = linprog(
        cost,
        A_ub=vstack([every[above], -every[below]]),
        b_ub=np.concatenate([high[above], -low[below]]),
        bounds=(0, None),
        method="highs",
    )
    return (answer.fun, answer.x, answer.lower.marginals) if answer.status == 0 else None
