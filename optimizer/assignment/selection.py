"""Which discs first, then which stack: the way to the least variance of single discs.

Without packets the variance of a set depends on which discs it uses, not on where they go.
So the cheapest choice whose sum is on target is proven in a moment; nearly always it can be
shared out evenly, and where it cannot, that choice is ruled out and the next one tried.
"""

from __future__ import annotations

import numpy as np
from ortools.sat.python import cp_model

from optimizer.assignment.constraint import COST_STEPS, PER_N, SOME_ANSWER, solved
from optimizer.assignment.frame import Frame
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.physics.packet import Index

#: deterministic time of one choice, a hundredth of it being more than usual
WORK = 0.5
#: part of the work row's window in which the mean of the set is put: at its edge no single
#: stack would have room to either side
MIDDLE = 0.3


class Selection:
    """A model of the discs of a whole set of like stacks of singles, by columns of a frame."""

    def __init__(self, task: Task, frame: Frame, share: float) -> None:
        """Model the number of discs and their sum, within `share` of the work window."""
        self.model = cp_model.CpModel()
        m = len(frame.cost)
        self.use = [self.model.new_bool_var("") for _ in range(m)]
        self.count = sum(p.packets for p in frame.patterns)
        self.model.add_linear_constraint(sum(self.use), self.count, self.count)
        row = frame.rows[0]
        room = float(row.room_n.sum())
        reach = share * task.shoes * row.window_n / 2
        self._between(row.constant_n[:, 0], room - reach, room + reach)
        if task.rules.free_height_mm is not None:
            low, high = (mm * task.shoes * frame.rate_n_per_mm for mm in task.rules.free_height_mm)
            self._between(frame.columns.free_mm * frame.rate_n_per_mm, low, high)
        self.unit = max(float(np.median(frame.cost)), 1e-12) / COST_STEPS
        price = np.floor(frame.cost / self.unit).astype(np.int64)
        self.model.minimize(cp_model.LinearExpr.weighted_sum(self.use, price.tolist()))

    def _between(self, values: np.ndarray, low: float, high: float) -> None:
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
            return None, bound
        return np.array([i for i, u in enumerate(self.use) if solver.value(u)]), bound

    def rule_out(self, chosen: Index) -> None:
        """Never give this very choice again."""
        self.model.add_linear_constraint(sum(self.use[i] for i in chosen), 0, self.count - 1)
