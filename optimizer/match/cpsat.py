"""The assignment as a CP-SAT model: which packet under which shoe.

One Boolean a packet and stack, each disc at most once, the subproblem's counts, and every row a
linear statement in integers of a millinewton, which are made here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from optimizer.control import Limits
from optimizer.estimate.problem import Task, constants
from optimizer.frozen import frozen_arrays
from optimizer.match.packets import reach_n
from optimizer.match.subproblem import Chosen, LinearRow, Subproblem
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: integers a newton in the rows, and an objective unit as a share of the median cost
PER_N = 1000
COST_STEPS = 20000
#: integers a millimetre in the exact rows, over those a newton
PER_MM = 1e6 / PER_N
#: the linear row may be off by this share of the way from the target
BENDS = 0.03
#: the same for the whole tolerance, with room to spare
SPREAD_REACH = 2.0
SOME_ANSWER = (cp_model.OPTIMAL, cp_model.FEASIBLE)


@dataclass(frozen=True)
@frozen_arrays
class Solution:
    """What the solver says: columns of each stack (or None) and objective bound.

    `impossible` is proven; neither a choice nor `impossible` means the limit came first.
    """

    chosen: Chosen | None
    impossible: bool
    bound: float


class Assignment:
    """A CP-SAT model over some columns of a subproblem, to be given rows and an objective."""

    def __init__(self, task: Task, subproblem: Subproblem, rows: Index, side: int = 1) -> None:
        """Model the discs, counts, height window and groups over columns `rows`.

        Rounding to integers is turned by `side`: with 1 it leaves out sets on the very edge of a
        limit, with -1 it lets in some beyond it, so that having none is a proof.
        """
        self.task, self.subproblem, self.rows, self.side = task, subproblem, rows, side
        self.model = cp_model.CpModel()
        stacks = range(task.shoes)
        self.use = [[self.model.new_bool_var("") for _ in stacks] for _ in rows]
        members = subproblem.columns.members[rows]
        size = subproblem.columns.size[rows]
        holding: dict[int, list[int]] = {}
        for at, row in enumerate(members):
            for disc in row[row >= 0]:
                holding.setdefault(int(disc), []).append(at)
        for disc, columns in holding.items():
            every = [self.use[c][i] for c in columns for i in stacks]
            if disc in task.use:
                self.model.add_exactly_one(every)
            else:
                self.model.add_at_most_one(every)
        for _ in set(map(int, task.use)) - set(holding):
            self.model.add_bool_or([])  # no packet holds it, so no set can use it
        for i in stacks:
            for k, count in enumerate(subproblem.patterns[i].counts, 1):
                self.model.add(sum(self.use[c][i] for c in np.flatnonzero(size == k)) == count)
        for group in task.together:
            for first, second in pairwise(group):
                for i in stacks:
                    self.model.add(
                        sum(self.use[c][i] for c in holding.get(int(first), []))
                        == sum(self.use[c][i] for c in holding.get(int(second), []))
                    )
        if task.rules.free_height_mm is not None:
            ends = [int(np.rint(mm * PER_MM * PER_N)) for mm in task.rules.free_height_mm]
            for i, total in enumerate(self._sums(subproblem.columns.free_mm[:, None] * PER_MM)):
                slack = self._slack(i)
                self.model.add_linear_constraint(total, ends[0] + slack, ends[1] - slack)

    def _slack(self, stack: int) -> int:
        """What rounding may add to a sum over a stack, towards the safe side."""
        return self.side * (self.subproblem.patterns[stack].packets + 1)

    def _sums(self, values: Array) -> list[Any]:
        """Sum of `values` (M, S or 1) over the chosen columns of each stack."""
        whole = np.rint(np.broadcast_to(values, (len(values), self.task.shoes)) * PER_N)
        part = whole[self.rows].astype(np.int64)
        return [
            cp_model.LinearExpr.weighted_sum([u[i] for u in self.use], part[:, i].tolist())
            for i in range(self.task.shoes)
        ]

    def _off(self, row: LinearRow) -> list[Any]:
        """How far each stack is from its room in a row, in integers."""
        room = np.rint(row.room_n * PER_N).astype(np.int64).tolist()
        return [total - mm for total, mm in zip(self._sums(row.constant_n), room, strict=True)]

    def within_rows(self) -> None:
        """Ask every row to keep its window."""
        for row in self.subproblem.rows:
            if row.centred:
                level = self.model.new_int_var(-(10**9), 10**9, row.name)
                for off in self._off(row):
                    self.model.add(off >= level)
                    self.model.add(off <= level + _down(row.window_n))
            else:
                half = _down(row.window_n / 2)
                for off in self._off(row):
                    self.model.add_linear_constraint(off, -half, half)

    def within_tolerance(self) -> None:
        """Ask every stack to stay within the load tolerance and its packets' limits.

        A stack carries at least F exactly when its constants at F fit into the room.
        """
        task, subproblem = self.task, self.subproblem
        reach = reach_n(task)
        room = task.required_travel_mm(task.travel_mm, subproblem.shims)
        ends = (task.target_n - reach, task.target_n + reach)
        low, high = (constants(task, subproblem.columns.packets, end) for end in ends)
        sums = zip(self._sums(low * PER_MM), self._sums(high * PER_MM), strict=True)
        for i, (least, most) in enumerate(sums):
            slack = self._slack(i)
            self.model.add(least <= int(np.rint(room[i] * PER_MM * PER_N)) - slack)
            self.model.add(most >= int(np.rint(room[i] * PER_MM * PER_N)) + slack)
        work = self._off(subproblem.rows[0])
        limit = subproblem.columns.limit_n[self.rows]
        for i in range(task.shoes):
            # the row is linear at the target: some per cent of the way are left to that
            over = (task.target_n[i] - limit) * task.weight[i]
            for at in np.flatnonzero(limit < ends[1][i]):
                edge = over[at] + self.side * BENDS * abs(over[at])
                self.model.add(work[i] >= _up(edge)).only_enforce_if(self.use[at][i])

    def least_spread(self) -> None:
        """Minimise the spread of the work row."""
        reach = _down(SPREAD_REACH * self.task.load_tolerance_n)
        low = self.model.new_int_var(-reach, reach, "low")
        high = self.model.new_int_var(-reach, reach, "high")
        for off in self._off(self.subproblem.rows[0]):
            self.model.add(off >= low)
            self.model.add(off <= high)
        self.model.minimize(high - low)

    def nearest_target(self) -> None:
        """Minimise the distance of the worst stack from its target."""
        most = self.model.new_int_var(0, _down(SPREAD_REACH * self.task.load_tolerance_n), "most")
        for off in self._off(self.subproblem.rows[0]):
            self.model.add(off <= most)
            self.model.add(-off <= most)
        self.model.minimize(most)

    def least_variance(self) -> float:
        """Minimise the variance; return the N^2 of one objective unit."""
        unit = max(float(np.median(self.subproblem.cost)), 1e-12) / COST_STEPS
        whole = np.floor(self.subproblem.cost[self.rows] / unit)  # down: a bound stays one
        every = [u for column in self.use for u in column]
        each = np.repeat(whole.astype(np.int64), self.task.shoes).tolist()
        self.model.minimize(cp_model.LinearExpr.weighted_sum(every, each))
        return unit

    def hint(self, chosen: Chosen) -> None:
        """Start from an assignment given as columns of the subproblem for each stack."""
        for i, columns in enumerate(chosen):
            inside = np.isin(self.rows, columns)
            for at, yes in enumerate(inside):
                self.model.add_hint(self.use[at][i], bool(yes))

    def solve(self, limits: Limits, work: float, seed: int) -> Solution:
        """Search with one worker for at most `work` units of deterministic time."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = work
        if limits.left() < np.inf:
            solver.parameters.max_time_in_seconds = max(limits.left(), 0.01)
        solver.parameters.catch_sigint_signal = False
        status = solver.solve(self.model, _StopOnRequest(limits))
        chosen = None
        if status in SOME_ANSWER:
            chosen = tuple(
                np.array(
                    [r for r, u in zip(self.rows, self.use, strict=True) if solver.value(u[i])]
                )
                for i in range(self.task.shoes)
            )
        return Solution(chosen, status == cp_model.INFEASIBLE, solver.best_objective_bound)


class _StopOnRequest(cp_model.CpSolverSolutionCallback):
    """Ends the search at the next answer once somebody asked to stop."""

    def __init__(self, limits: Limits) -> None:
        super().__init__()
        self.limits = limits

    def on_solution_callback(self) -> None:
        """Look at the limit whenever an answer is found."""
        if self.limits.over():
            self.stop_search()


def _up(newtons: float) -> int:
    return int(np.ceil(newtons * PER_N - 1e-9))


def _down(newtons: float) -> int:
    return int(np.floor(newtons * PER_N + 1e-9))
