"""Which packets a whole set takes, whatever the stacks: a small model with a strong bound.

The variance of a set depends on which packets it has, not on where they go. So the cheapest
packets whose sum is on target are found apart from the stacks, in a moment; what no choice
of packets goes below, no set goes below.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from optimizer.assignment.constraint import COST_STEPS, PER_N, SOME_ANSWER, solved
from optimizer.assignment.frame import Frame
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

#: deterministic time of one choice; singles take a hundredth of it
WORK = 0.5


class Selection:
    """A model of the packets of a whole set of like stacks, over columns `rows` of a frame."""

    def __init__(self, task: Task, frame: Frame, rows: Index, share: float) -> None:
        """Model discs, counts, height and the sum, within `share` of the work window."""
        self.model = cp_model.CpModel()
        self.rows = rows
        self.use = [self.model.new_bool_var("") for _ in rows]
        members = frame.columns.members[rows]
        for disc in np.unique(members[members >= 0]):
            self.model.add_at_most_one(self._of((members == disc).any(1)))
        size = frame.columns.size[rows]
        for k, count in enumerate(frame.patterns[0].counts, 1):
            total = cp_model.LinearExpr.sum(self._of(size == k))
            self.model.add_linear_constraint(total, count * task.shoes, count * task.shoes)
        row = frame.rows[0]
        room = float(row.room_n.sum())
        reach = share * task.shoes * row.window_n / 2
        self._between(row.constant_n[rows, 0], room - reach, room + reach)
        if task.rules.free_height_mm is not None:
            low, high = (mm * task.shoes * frame.rate_n_per_mm for mm in task.rules.free_height_mm)
            self._between(frame.columns.free_mm[rows] * frame.rate_n_per_mm, low, high)
        self.unit = max(float(np.median(frame.cost)), 1e-12) / COST_STEPS
        price = np.floor(frame.cost[rows] / self.unit).astype(np.int64)
        self.model.minimize(cp_model.LinearExpr.weighted_sum(self.use, price.tolist()))

    def _of(self, wanted: NDArray[np.bool_]) -> list[cp_model.IntVar]:
        return [self.use[i] for i in np.flatnonzero(wanted)]

    def _between(self, values: Array, low: float, high: float) -> None:
        """Ask the sum of `values` to lie between two bounds, in whole millinewtons."""
        whole = np.rint(values * PER_N).astype(np.int64).tolist()
        total = cp_model.LinearExpr.weighted_sum(self.use, whole)
        self.model.add_linear_constraint(
            total, int(np.ceil(low * PER_N)), int(np.floor(high * PER_N))
        )

    def best(self, limits: Limits, seed: int) -> tuple[Index | None, float]:
        """Cheapest choice of columns, and the variance in N^2 that none goes below."""
        solver, status = solved(self.model, limits, WORK, seed)
        bound = solver.best_objective_bound * self.unit
        if status not in SOME_ANSWER:
            return None, np.inf if status == cp_model.INFEASIBLE else bound
        return self.rows[[i for i, u in enumerate(self.use) if solver.value(u)]], bound

    def rule_out(self, chosen: Index) -> None:
        """Never give this very choice again."""
        again = cp_model.LinearExpr.sum(self._of(np.isin(self.rows, chosen)))
        self.model.add_linear_constraint(again, 0, len(chosen) - 1)
