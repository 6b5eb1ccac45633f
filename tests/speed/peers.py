"""What one would use instead, on the same subproblem: columns of packets and the work row.

Every peer sees only the working travel, not the worn one, which makes its task easier than
ours. Each returns its columns by stack, or None.
"""

from __future__ import annotations

from time import perf_counter

import numpy as np
from numberpartitioning import karmarkar_karp
from ortools.sat.python import cp_model
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, eye_array, kron, vstack

from optimizer.estimate.problem import Task
from optimizer.match.cpsat import Assignment
from optimizer.match.dealing import choose
from optimizer.match.local_search import Descent
from optimizer.match.subproblem import Subproblem

Answer = tuple[np.ndarray, ...] | None


def highs(task: Task, made: Subproblem, seconds: float, window: bool) -> Answer:
    """scipy's HiGHS `milp`: a set within the window, or the least variance within it."""
    m, s = len(made.cost), task.shoes
    row, place = np.nonzero(made.columns.members >= 0)
    disc = coo_array(
        (np.ones(len(row)), (made.columns.members[row, place], row)), (len(task.belief), m)
    )
    work = made.rows[0]
    blocks = [kron(np.ones((1, s)), disc)]
    low, high = [np.zeros(len(task.belief))], [np.ones(len(task.belief))]
    for k, count in enumerate(made.patterns[0].counts, 1):
        blocks.append(kron(eye_array(s), (made.columns.size == k).astype(float)[None]))
        low.append(np.full(s, count))
        high.append(np.full(s, count))
    blocks.append(kron(eye_array(s), work.constant_n[:, 0][None]))
    low.append(work.room_n - work.window_n / 2)
    high.append(work.room_n + work.window_n / 2)
    cost = np.zeros(m * s) if window else np.tile(made.cost, s)
    answer = milp(
        cost,
        integrality=np.ones(m * s),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(vstack(blocks), np.concatenate(low), np.concatenate(high)),
        options={"time_limit": seconds},
    )
    if answer.x is None:
        return None
    chosen = answer.x.reshape(s, m) > 0.5
    return tuple(np.flatnonzero(stack) for stack in chosen)


class _Until(cp_model.CpSolverSolutionCallback):
    """Notes when the objective first is within the window, and stops there if asked."""

    def __init__(self, enough: float, stop: bool) -> None:
        super().__init__()
        self.enough, self.stop = enough, stop
        self.reached: float | None = None
        self.spreads: list[tuple[float, float]] = []
        self.started = perf_counter()

    def on_solution_callback(self) -> None:
        now = perf_counter() - self.started
        self.spreads.append((now, self.objective_value))
        if self.objective_value <= self.enough and self.reached is None:
            self.reached = now
            if self.stop:
                self.stop_search()


def minimise_spread(task: Task, made: Subproblem, seconds: float) -> tuple[Answer, _Until]:
    """Plain CP-SAT, "minimise max minus min", one worker, no staging; stops at the window."""
    model = Assignment(task, made, np.arange(len(made.cost)))
    model.least_spread()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    watch = _Until(950 * made.rows[0].window_n, True)
    status = solver.solve(model.model, watch)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, watch
    chosen = tuple(
        np.array([at for at, u in enumerate(model.use) if solver.value(u[i])])
        for i in range(task.shoes)
    )
    return chosen, watch


def direct(task: Task, made: Subproblem, seconds: float) -> tuple[float, float]:
    """The direct variance model in CP-SAT: every column and stack; variance and its bound."""
    model = Assignment(task, made, np.arange(len(made.cost)))
    model.within_rows()
    unit = model.least_variance()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model.model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (solver.objective_value * unit if found else np.inf), solver.best_objective_bound * unit


def snake(task: Task, made: Subproblem) -> Answer:
    """Greedy snake: discs by thickness, dealt to and fro over the stacks, nested as dealt."""
    descent = Descent(task, made)
    order = task.usable[np.argsort(task.discs.thickness_mm[task.usable], kind="stable")]
    seats = descent.places
    start = (len(order) - seats) // 2
    middle = order[start : start + seats].reshape(-1, task.shoes).copy()
    middle[1::2] = middle[1::2, ::-1]
    dealt = np.concatenate([middle.T.ravel(), order[:start], order[start + seats :]])
    return descent.chosen(dealt)


def random_swaps(task: Task, made: Subproblem, seed: int, swaps: int = 10_000) -> Answer:
    """Random exchanges of discs, kept when the worst stack comes no further off target."""
    descent = Descent(task, made)
    rng = np.random.default_rng(seed)
    dealt = descent.deal(rng, 1)[0]
    stack = descent.stack[descent.first]
    work = made.rows[0]
    constant = np.append(work.constant_n[:, 0], np.inf)

    def worst() -> float:
        column = descent.columns_at(dealt[None], descent.first)[0]
        off = np.bincount(stack, constant[column]) - work.room_n
        return float(np.abs(off).max())

    best = worst()
    for a, b in zip(
        rng.integers(descent.places, size=swaps),
        rng.integers(len(dealt), size=swaps),
        strict=True,
    ):
        dealt[a], dealt[b] = dealt[b], dealt[a]
        now = worst()
        if now <= best:
            best = now
            if best <= work.window_n / 2:
                break
        else:
            dealt[a], dealt[b] = dealt[b], dealt[a]
    return descent.chosen(dealt)


def differencing(task: Task, made: Subproblem) -> Answer:
    """Karmarkar-Karp of a number-partitioning package, on discs chosen for the mean load."""
    work = made.rows[0]
    value = work.constant_n[:, 0]
    count = sum(p.packets for p in made.patterns)
    one = np.zeros(len(value), dtype=int)
    chosen = choose(value, made.cost, one, {0: count}, float(work.room_n.sum()))
    parts = karmarkar_karp(
        [round(1e6 * v) for v in value[chosen]], num_parts=task.shoes, return_indices=True
    ).partition
    if any(len(part) * task.shoes != count for part in parts):
        return None
    return tuple(chosen[np.array(part)] for part in parts)
