"""Linear relaxation of a frame: a bound on the variance, or a proof that nothing fits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import OptimizeResult, linprog
from scipy.sparse import csr_array, vstack

from optimizer.assignment.frame import Frame
from optimizer.assignment.problem import Task
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index


@dataclass(frozen=True)
class Group:
    """Shoes that the relaxation takes together, since their stacks could change places.

    `sharp` is how many sharp discs each of them has in packets of the smallest size, or all
    of them together where `summed`; None where that is open.
    """

    shoes: tuple[int, ...]
    sharp: int | None = None
    summed: bool = False


@dataclass(frozen=True)
class Relaxation:
    """Least variance in N^2 that any assignment of the frame can have, summed over stacks.

    `added` (G, M) is what using a column in each of the G groups adds at least: columns
    that together add more than the gap between an answer and the bound are in no better
    answer. `share` (M) is how much of each column the relaxed assignment takes.
    """

    bound: float
    groups: tuple[Group, ...]
    added: Array
    share: Array

    @property
    def reduced(self) -> Array:
        """What a column (M) adds wherever it goes."""
        least: Array = self.added.min(0)
        return least


def sharp_alone(task: Task, frame: Frame) -> Array:
    """Number (M) of sharp discs, or what else scatters most, in packets of the smallest size.

    They are the dearest by far. A relaxed answer takes a part of one to come on target, and
    the bound is weak until their number is whole.
    """
    scatter, columns = task.belief.scatter, frame.columns
    sharp = scatter > (scatter[task.usable].min() + scatter[task.usable].max()) / 2
    number = np.where(columns.members >= 0, sharp[columns.members], False).sum(1)
    alone: Array = np.where(columns.size == columns.size.min(), number, 0.0)
    return alone


def relax(
    task: Task, frame: Frame, half_window_n: float, groups: tuple[Group, ...] | None = None
) -> Relaxation | None:
    """Relax the assignment to shares of packets; None when even that cannot be done.

    Parameters
    ----------
    half_window_n : how far every stack may be from its target, in N of the work row
    groups : all shoes in groups of like ones; one group where all stacks are alike, each
        shoe by itself elsewhere, when not given

    Notes
    -----
    Like stacks are summed into one group, which loses nothing that a bound needs. The rows:
    each disc at most once (just once where it must be used), packets of each size, work
    room, free height, sharp discs where the groups say.
    """
    if groups is None:
        each = tuple(Group((i,)) for i in range(task.shoes))
        groups = (Group(tuple(range(task.shoes))),) if frame.alike else each
    m = len(frame.cost)
    rows = _Rows(m, len(groups))
    member = frame.columns.members
    for disc in range(len(task.belief)):
        held = (member == disc).any(1)
        rows.add(range(len(groups)), held, 1.0 if disc in task.use else -np.inf, 1.0)
    for at, group in enumerate(groups):
        stacks = list(group.shoes)
        count = len(stacks)
        for size in (1, 2, 3):
            packets = sum(frame.patterns[i].counts[size - 1] for i in stacks)
            rows.add([at], frame.columns.size == size, packets, packets)
        if group.sharp is not None:
            sharp = group.sharp if group.summed else count * group.sharp
            rows.add([at], sharp_alone(task, frame), sharp, sharp)
        work = frame.rows[0]
        room, reach = work.room_n[stacks].sum(), count * half_window_n
        rows.add([at], work.constant_n[:, stacks[0]], room - reach, room + reach)
        if task.rules.free_height_mm is not None:
            low, high = task.rules.free_height_mm
            rows.add([at], frame.columns.free_mm, count * low, count * high)
    scale = max(float(np.median(frame.cost)), 1e-12)
    answer = rows.least(np.tile(frame.cost / scale, len(groups)))
    if answer.status != 0:
        return None
    added = np.maximum(answer.lower.marginals * scale, 0.0).reshape(-1, m)
    share = answer.x.reshape(-1, m).sum(0)
    return Relaxation(float(answer.fun) * scale, groups, added, share)


class _Rows:
    """Rows of a linear programme whose variables are the shares of columns in every group."""

    def __init__(self, columns: int, groups: int) -> None:
        self.columns, self.groups = columns, groups
        self.index: list[Index] = []
        self.value: list[Array] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def add(self, groups: Iterable[int], values: ArrayLike, low: float, high: float) -> None:
        """Ask the sum of `values` (columns) over the shares in some groups to lie between two."""
        values = np.asarray(values, dtype=np.float64)
        at = np.flatnonzero(values)
        index = [at + self.columns * group for group in groups]
        self.index.append(np.concatenate(index))
        self.value.append(np.tile(values[at], len(index)))
        self.low.append(float(low))
        self.high.append(float(high))

    def least(self, cost: Array) -> OptimizeResult:
        """Minimise the cost (columns times groups) of shares of at least 0 that keep the rows."""
        ends = np.concatenate([[0], np.cumsum([len(index) for index in self.index])])
        shape = len(self.index), self.columns * self.groups
        every = csr_array((np.concatenate(self.value), np.concatenate(self.index), ends), shape)
        low, high = np.array(self.low), np.array(self.high)
        equal, under = low == high, low == -np.inf
        between = ~equal & ~under
        return linprog(
            cost,
            A_ub=vstack([every[under | between], -every[between]]),
            b_ub=np.concatenate([high[under | between], -low[between]]),
            A_eq=every[equal],
            b_eq=high[equal],
            bounds=(0, None),  # each disc at most once keeps the shares below 1
            method="highs",
        )
