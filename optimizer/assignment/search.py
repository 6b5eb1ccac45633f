"""Search within one frame: descent to a match, then towards the least variance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.assignment.bound import Relaxation
from optimizer.assignment.constraint import Assignment
from optimizer.assignment.descent import Descent, Score
from optimizer.assignment.frame import Frame
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.assignment.result import StackDiscs
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

STARTS = 8
ROUNDS = 6
#: prices of a newton^2 beyond the windows, rising so that variance gives way in the end
PRICES = (1.0, 10.0, 100.0, 1000.0)
#: part of a row's window that the search uses, leaving the rest to rounding
INSIDE = 0.9
#: columns given to the constraint solver, and its deterministic time
MOST_COLUMNS = 240
WORK = 2.0


@dataclass(frozen=True)
class Found:
    """Columns of each stack, their variance in N^2, and whether every window is kept."""

    chosen: tuple[Index, ...]
    cost: float
    kept: bool


def misfit(frame: Frame, chosen: tuple[Index, ...]) -> Array:
    """Excess (R) in N of each row's deviation over its window, 0 where kept."""
    excess = []
    for row in frame.rows:
        at = np.array([row.constant_n[c, i].sum() for i, c in enumerate(chosen)]) - row.room_n
        wide = np.ptp(at) if row.centred else 2 * np.abs(at).max()
        excess.append(max(float(wide) - row.window_n, 0.0))
    return np.array(excess)


def slack(frame: Frame) -> Array:
    """Deviation (R) in N from target or from the mean that keeps each row's window."""
    return np.array([INSIDE * row.window_n / 2 for row in frame.rows])


def match(
    task: Task, frame: Frame, descent: Descent, rng: np.random.Generator, limits: Limits
) -> Found | None:
    """Find any assignment that keeps all windows: descents first, then the solver."""
    score = Score(slack(frame), np.ones(len(frame.rows)), 0.0)
    best = None
    if not len(task.use) and not task.together:
        for _ in range(ROUNDS):
            dealt, value = descent.run(descent.deal(rng, STARTS), score, limits.over, 0.0)
            best = _found(frame, descent, dealt[value.argmin()])
            if best.kept or limits.over():
                return best
    return best


def _found(frame: Frame, descent: Descent, dealt: Index) -> Found:
    first = np.unique(descent.places.packet, return_index=True)[1]
    column = descent.columns_at(dealt[None], first)[0]
    stack = descent.places.stack[first]
    chosen = tuple(column[stack == i] for i in range(len(frame.patterns)))
    valid = column.max() < len(frame.cost)
    cost = float(frame.cost[column].sum()) if valid else np.inf
    return Found(chosen, cost, bool(valid and not misfit(frame, chosen).any()))


def steady(
    task: Task, frame: Frame, descent: Descent, rng: np.random.Generator, limits: Limits
) -> Found | None:
    """Descend towards the least variance among matches, at rising prices for misfit."""
    dealt = descent.deal(rng, STARTS)
    best = None
    for price in PRICES:
        score = Score(slack(frame), np.full(len(frame.rows), price), 1.0)
        dealt, _ = descent.run(dealt, score, limits.over)
    for row in dealt:
        found = _found(frame, descent, row)
        if found.kept and (best is None or found.cost < best.cost):
            best = found
    return best


def polish(
    task: Task, frame: Frame, best: Found | None, relaxation: Relaxation, limits: Limits, seed: int
) -> tuple[Found | None, float]:
    """Let the constraint solver improve on `best` over the columns that could.

    Returns the better of both and a bound on the variance of the frame.
    """
    order = np.argsort(relaxation.reduced, kind="stable")
    rows = order[:MOST_COLUMNS]
    if best is not None:
        gap = best.cost - relaxation.bound
        rows = rows[relaxation.reduced[rows] <= gap]
        rows = np.union1d(rows, np.concatenate(best.chosen))
    model = Assignment(task, frame, rows)
    model.within_rows()
    unit = model.least_variance()
    if best is not None:
        model.hint(best.chosen)
    verdict = model.solve(limits, WORK, seed)
    bound = relaxation.bound
    if verdict.chosen is None:
        return best, bound
    cost = float(frame.cost[np.concatenate(verdict.chosen)].sum())
    found = Found(verdict.chosen, cost, not misfit(frame, verdict.chosen).any())
    left_out = np.setdiff1d(np.arange(len(frame.cost)), rows)
    beyond = relaxation.bound + relaxation.reduced[left_out].min(initial=np.inf)
    bound = max(bound, min(verdict.bound * unit, beyond))
    if best is not None and best.cost <= found.cost:
        return best, bound
    return found, bound


def stacks_of(frame: Frame, chosen: tuple[Index, ...]) -> tuple[StackDiscs, ...]:
    """Disc numbers of the chosen columns, packets of one size together, biggest first."""
    members = frame.columns.members
    return tuple(
        tuple(
            tuple(int(d) for d in members[c] if d >= 0)
            for c in sorted(columns, key=lambda c: (-frame.columns.size[c], *members[c]))
        )
        for columns in chosen
    )
