"""Linear relaxation of a frame: a bound on the variance, or a proof that nothing fits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array, hstack, vstack

from optimizer.assignment.frame import Frame
from optimizer.assignment.problem import Task
from optimizer.physics.disc import Array


@dataclass(frozen=True)
class Relaxation:
    """Least variance in N^2 that any assignment of the frame can have, summed over stacks.

    `reduced` (M) is what using a column adds at least: a column whose reduced cost exceeds
    the gap between an answer and the bound is in no better answer. `share` (M) is how much
    of each column the relaxed assignment takes.
    """

    bound: float
    reduced: Array
    share: Array


def relax(task: Task, frame: Frame, half_window_n: float) -> Relaxation | None:
    """Relax the assignment to shares of packets; None when even that cannot be done.

    Parameters
    ----------
    half_window_n : how far every stack may be from its target, in N of the work row

    Notes
    -----
    Like stacks are summed into one group, which loses nothing that a bound needs. The rows:
    each disc at most once (just once where it must be used), packets of each size, work
    room, free height.
    """
    m = len(frame.cost)
    groups = [range(task.shoes)] if frame.alike else [range(i, i + 1) for i in range(task.shoes)]
    g = len(groups)
    n = len(task.belief)
    member = frame.columns.members
    row, place = np.nonzero(member >= 0)
    disc = coo_array((np.ones(len(row)), (member[row, place], row)), shape=(n, m))
    above = [hstack([disc] * g)]
    above_limit = [np.ones(n)]
    equal, equal_to = [], []
    for at, stacks in enumerate(groups):
        for size in (1, 2, 3):
            chosen = (frame.columns.size == size).astype(np.float64)
            if chosen.any() or any(frame.patterns[i].counts[size - 1] for i in stacks):
                equal.append(_place(chosen, at, g))
                equal_to.append(sum(frame.patterns[i].counts[size - 1] for i in stacks))
        count = len(stacks)
        work = frame.rows[0]
        room = work.room_n[list(stacks)].sum()
        above += [_place(work.constant_n[:, stacks[0]], at, g)]
        above += [_place(-work.constant_n[:, stacks[0]], at, g)]
        above_limit += [np.array([room + count * half_window_n])]
        above_limit += [np.array([-room + count * half_window_n])]
        if task.rules.free_height_mm is not None:
            low, high = task.rules.free_height_mm
            above += [_place(frame.columns.free_mm, at, g), _place(-frame.columns.free_mm, at, g)]
            above_limit += [np.array([count * high]), np.array([-count * low])]
    if len(task.use):
        whole = hstack([disc] * g).tocsr()[task.use]
        equal.append(whole)
        equal_to += [1] * len(task.use)
    scale = max(float(np.median(frame.cost)), 1e-12)
    answer = linprog(
        np.tile(frame.cost / scale, g),
        A_ub=vstack(above).tocsr(),
        b_ub=np.concatenate(above_limit),
        A_eq=vstack(equal).tocsr(),
        b_eq=np.array(equal_to, dtype=np.float64),
        bounds=(0, 1),
        method="highs",
    )
    if answer.status != 0:
        return None
    reduced = (answer.lower.marginals + answer.upper.marginals) * scale
    share = answer.x.reshape(g, m).sum(0)
    return Relaxation(float(answer.fun) * scale, reduced.reshape(g, m).min(0), share)


def _place(values: Array, at: int, groups: int) -> coo_array:
    """One row with `values` in group `at` of the variables."""
    m = len(values)
    column = np.arange(m) + at * m
    return coo_array((values, (np.zeros(m, dtype=int), column)), shape=(1, m * groups))
