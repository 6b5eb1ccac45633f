"""All stacks of one shoe near its target that could be part of a better set.

What a column adds to the bound at least, its reduced cost, adds up over a set; so a stack
whose columns add more than the gap is in no better set, and the few others can be listed.
Two halves of a stack are listed apart and joined where their constants meet in the window.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.control import Work
from optimizer.estimate.problem import Task
from optimizer.frozen import Rows, frozen_arrays
from optimizer.match.bounds import Relaxation
from optimizer.match.subproblem import Subproblem
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index

#: work of making a half stack or of joining two, and of a stack made
JOIN, MADE = 12, 250
#: joins made in one go
BATCH = 500_000
#: part of each window that is used, leaving the rest to rounding
INSIDE = 0.98
#: discs that one word of a mask tells apart
WORD = 64

Masks = NDArray[np.uint64]
#: columns of one size, by their positions in the order of what they add, and how many to take
Kind = tuple[Index, int]


@dataclass(frozen=True)
@frozen_arrays
class StackList(Rows):
    """N stacks that the shoes of a group may have, and what they add up to.

    `columns` (N, P) are those of the subproblem; `discs` (N, W) has a bit for every disc; `added`
    (N) is what the columns add to the bound and `cost` (N) the variance, in N^2; `rank` (N) is the
    place in the order of `added`; `off_n` (N, C) is how far the centred rows are from their room.
    """

    group: int
    columns: Index
    discs: Masks
    added: Array
    rank: Index
    cost: Array
    off_n: Array

    def __len__(self) -> int:
        """Return the number of stacks."""
        return len(self.cost)


@dataclass(frozen=True)
@frozen_arrays
class _Parts(Rows):
    """Parts of stacks: positions (N, p) among the offered columns, masks, reduced costs."""

    at: Index
    discs: Masks
    added: Array


def apart(one: Masks, other: Masks) -> Mask:
    """Whether masks (..., W) have no disc in common."""
    free: Mask = (one[..., 0] & other[..., 0]) == 0
    for word in range(1, one.shape[-1]):
        free &= (one[..., word] & other[..., word]) == 0
    return free


def list_stacks(
    task: Task, relaxation: Relaxation, group: int, most: float, work: Work
) -> StackList | None:
    """List the stacks of a group within the work row's window; None where `work` ends first.

    Parameters
    ----------
    most : N^2 that the columns of a stack may add together
    """
    subproblem, added = relaxation.subproblem, relaxation.added[group]
    shoe = relaxation.groups[group][0]
    offered = np.flatnonzero(added <= most)
    offered = offered[np.argsort(added[offered], kind="stable")]
    masks = _masks(task, subproblem.columns.members[offered])
    halves = []
    first, second = _halves(_kinds(subproblem, shoe, offered))
    for half in (first, second):
        parts = _Parts(
            np.empty((1, 0), dtype=np.intp), np.zeros((1, masks.shape[1]), np.uint64), np.zeros(1)
        )
        for kind, count in half:
            for turn in range(count):
                grown = _grown(parts, kind, masks, added[offered], most, turn > 0, work)
                if grown is None:
                    return None
                parts = grown
        halves.append(parts)
    row, *others = subproblem.rows
    window = INSIDE * row.window_n / 2
    constant = row.constant_n[offered, shoe]
    divided = bool(first[-1][1] and second[0][1])
    joined = _joined(halves, divided, constant, row.room_n[shoe], window, most, work)
    if joined is None:
        return None
    if not work.spend(MADE * len(joined.at)):
        return None
    if task.rules.free_height_mm is not None:
        low, high = task.rules.free_height_mm
        free = subproblem.columns.free_mm[offered[joined.at]].sum(1)
        joined = joined.take(np.flatnonzero((free >= low) & (free <= high)))
    columns = offered[joined.at]
    rank = np.empty(len(columns), dtype=np.intp)
    rank[np.argsort(joined.added, kind="stable")] = np.arange(len(columns))
    off = np.empty((len(columns), len(others)))
    for at, other in enumerate(others):
        off[:, at] = other.constant_n[columns, shoe].sum(1) - other.room_n[shoe]
    cost = subproblem.cost[columns].sum(1)
    return StackList(group, columns, joined.discs, joined.added, rank, cost, off)


def _kinds(subproblem: Subproblem, shoe: int, offered: Index) -> list[Kind]:
    """The packets of every size that a stack of a shoe takes."""
    size = subproblem.columns.size[offered]
    counts = subproblem.patterns[shoe].by_size
    return [(np.flatnonzero(size == k), count) for k, count in counts.items()]


def _masks(task: Task, members: Index) -> Masks:
    """Masks (M, W) of the discs of columns, numbered by their place among the usable ones."""
    row, seat = np.nonzero(members >= 0)
    number = np.searchsorted(task.usable, members[row, seat])
    masks = np.zeros((len(members), len(task.usable) // WORD + 1), dtype=np.uint64)
    bit = np.uint64(1) << (number % WORD).astype(np.uint64)
    np.bitwise_or.at(masks, (row, number // WORD), bit)
    return masks


def _halves(kinds: list[Kind]) -> tuple[list[Kind], list[Kind]]:
    """Divide the packets of a stack so that the longer list of half stacks is short.

    At most one kind is divided: the last one of the first half, the first of the second.
    """
    choices = []
    for at, (kind, all_) in enumerate(kinds):
        for count in range(all_ + 1):
            first = [*kinds[:at], (kind, count)]
            second = [(kind, all_ - count), *kinds[at + 1 :]]
            choices.append((max(_log_ways(first), _log_ways(second)), at, count, first, second))
    _, _, _, first, second = min(choices, key=lambda choice: choice[:3])
    return first, second


def _log_ways(kinds: list[Kind]) -> float:
    """Log of how many ways there are to take so many of every kind, roughly."""
    return float(
        sum(np.log(max(len(kind) - j, 1) / (j + 1)) for kind, count in kinds for j in range(count))
    )


def _grown(
    parts: _Parts,
    offered: Index,
    masks: Masks,
    added: Array,
    most: float,
    after: bool,
    work: Work,
) -> _Parts | None:
    """Add one column to every part, behind its last one where `after`; None if work ends.

    The columns `offered` come in the order of what they add.
    """
    start = np.zeros(len(parts.at), dtype=np.intp)
    if after:
        start = np.searchsorted(offered, parts.at[:, -1], side="right")
    end = np.searchsorted(added[offered], most - parts.added, side="right")
    end = np.maximum(end, start)
    if not work.spend(JOIN * int((end - start).sum())):
        return None
    rows, at = _ranges(start, end)
    new = offered[at]
    good = apart(parts.discs[rows], masks[new])
    rows, new = rows[good], new[good]
    return _Parts(
        np.column_stack([parts.at[rows], new]),
        parts.discs[rows] | masks[new],
        parts.added[rows] + added[new],
    )


def _ranges(start: Index, end: Index) -> tuple[Index, Index]:
    """Row and value of every whole number from start (N) to below end (N)."""
    count = end - start
    rows = np.repeat(np.arange(len(count)), count)
    return rows, np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + start[rows]


def _joined(
    halves: list[_Parts],
    divided: bool,
    constant_n: Array,
    room_n: float,
    half_window_n: float,
    most: float,
    work: Work,
) -> _Parts | None:
    """Join half stacks whose constants together meet the room; None if work ends.

    Where the halves draw from one kind (`divided`), they do so in order: each stack once.
    """
    one, two = halves
    have = constant_n[one.at].sum(1)
    order = np.argsort(have, kind="stable")
    one = one.take(order)
    have = have[order]
    need = room_n - constant_n[two.at].sum(1)
    order = np.argsort(need)  # looked up in order, what is sought lies near: four times as quick
    start, end = np.empty((2, len(need)), dtype=np.intp)
    start[order] = np.searchsorted(have, need[order] - half_window_n)
    end[order] = np.searchsorted(have, need[order] + half_window_n, side="right")
    ahead = np.cumsum(end - start)
    if not work.spend(JOIN * int(ahead.max(initial=0))):
        return None
    found = [(np.empty(0, dtype=np.intp),) * 2]
    cut = np.searchsorted(ahead, np.arange(0, ahead.max(initial=0), BATCH)).tolist()
    for first, last in pairwise([*cut, len(ahead)]):
        rows, at = _ranges(start[first:last], end[first:last])
        rows += first
        good = one.added[at] + two.added[rows] <= most
        if divided:
            good &= one.at[at, -1] < two.at[rows, 0]
        rows, at = rows[good], at[good]
        good = apart(one.discs[at], two.discs[rows])
        found.append((at[good], rows[good]))
    at, rows = (np.concatenate(part) for part in zip(*found, strict=True))
    return _Parts(
        np.concatenate([one.at[at], two.at[rows]], axis=1),
        one.discs[at] | two.discs[rows],
        one.added[at] + two.added[rows],
    )
