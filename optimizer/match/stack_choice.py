"""One stack for every shoe from lists of stacks: no disc twice, least variance, like travels.

The search goes through the stacks of the first shoe in the order of what they add to the
bound, and for each looks only at stacks of the others that share no disc with it and are
near it at every travel. What is left for the last two shoes is tried pair by pair, in blocks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.control import Work
from optimizer.match.stack_list import StackList, apart
from optimizer.match.subproblem import Chosen
from optimizer.mechanics.disc import Array

#: stacks of the last shoe but one, and pairs with those of the last, that are tried at once
BLOCK, PAIRS = 256, 1_000_000
#: work of looking at a stack beside a chosen one, of taking it along, of choosing one, and of a
#: pair that would be good enough; that of looking at a pair is 1
LOOK, TAKE, TURN, TEST = 2, 30, 8000, 10


@dataclass
class Search:
    """What a search may look at, and the best set so far.

    `window_n` (C) are the windows of the centred rows; `room` is what the stacks together
    may add to `bound`, `below` the variance in N^2 that a set must stay under: both shrink
    as better sets are found, until one has `enough`. `complete` says that `work` was enough
    to look at every set.
    """

    window_n: Array
    bound: float
    room: float
    below: float
    enough: float
    work: Work
    over: Callable[[], bool]
    chosen: Chosen | None = None
    complete: bool = True

    def found(self, chosen: Chosen, cost: float) -> None:
        """Keep a better set."""
        self.chosen, self.below = chosen, cost
        self.room = min(self.room, cost - self.bound)


def choose(lists: Sequence[StackList], search: Search) -> None:
    """Find the set of least variance that takes one stack for every shoe; see `Search`.

    Parameters
    ----------
    lists : stacks that each shoe may have, those of one group next to each other
    """
    if len(lists) == 1:
        _only(lists[0], search)
    elif all(len(stacks) for stacks in lists):
        along = {stacks.group: _along(stacks) for stacks in lists}
        _next([along[stacks.group] for stacks in lists], search, (), 0.0, 0.0)


def _only(stacks: StackList, search: Search) -> None:
    """Take the best stack of a clutch of one shoe."""
    rows = np.flatnonzero((stacks.added <= search.room) & (stacks.cost < search.below))
    if len(rows):
        best = rows[stacks.cost[rows].argmin()]
        search.found((stacks.columns[best],), float(stacks.cost[best]))


def _along(stacks: StackList) -> StackList:
    """Bring stacks in the order of their first centred row, of `added` where there is none."""
    order = stacks.off_n[:, 0] if stacks.off_n.shape[1] else stacks.rank
    return stacks.take(np.argsort(order, kind="stable"))


def _next(
    lists: list[StackList], search: Search, chosen: Chosen, added: float, cost: float
) -> None:
    """Choose the stack of the next shoe, then those of the others.

    Stacks `chosen` before are `added` to the bound and have the variance `cost`, in N^2.
    """
    if len(lists) == 2:
        _last_two(lists[0], lists[1], search, chosen, added, cost)
        return
    first, *others = lists
    least = np.array([stacks.added.min() for stacks in others])
    cheapest = np.array([stacks.cost.min() for stacks in others])
    after = np.array([stacks.group == first.group for stacks in others])
    for row in np.argsort(first.rank, kind="stable").tolist():
        own = float(first.added[row])
        rest = np.where(after, own, least)
        left = search.room - added - own
        if left < rest.sum() or search.below <= search.enough:
            break
        if not search.work.spend(TURN) or search.over():
            search.complete = False
            break
        so_far = cost + float(first.cost[row])
        near: dict[int, StackList] = {}
        for stacks, own_least, own_cheapest in zip(others, rest, cheapest, strict=True):
            if stacks.group not in near:
                most = left - float(rest.sum() - own_least)
                dearest = search.below - so_far - float(cheapest.sum() - own_cheapest)
                near[stacks.group] = _near(stacks, first, row, most, dearest, search)
                if not len(near[stacks.group]):
                    break
        else:
            now = (*chosen, first.columns[row])
            _next([near[stacks.group] for stacks in others], search, now, added + own, so_far)


def _near(
    stacks: StackList, first: StackList, row: int, most: float, dearest: float, search: Search
) -> StackList:
    """Stacks that go with stack `row` of the first list.

    They add at most `most` to the bound and have a variance below `dearest`, in N^2.
    """
    own = first.off_n[row]
    span = slice(0, len(stacks))
    if len(search.window_n):
        reach = own[0] + np.array([-1, 1]) * search.window_n[0]
        span = slice(*np.searchsorted(stacks.off_n[:, 0], reach).tolist())
    search.work.spend(LOOK * (span.stop - span.start))
    free = np.flatnonzero(apart(stacks.discs[span], first.discs[row])) + span.start
    good = (stacks.added[free] <= most) & (stacks.cost[free] < dearest)
    if stacks.group == first.group:
        good &= stacks.rank[free] > first.rank[row]
    for c in range(1, len(search.window_n)):
        good &= np.abs(stacks.off_n[free, c] - own[c]) <= search.window_n[c]
    near = free[good]
    search.work.spend(TAKE * len(near))
    return stacks.take(near)


def _last_two(
    a: StackList, b: StackList, search: Search, chosen: Chosen, added: float, before: float
) -> None:
    """Choose the stacks of the last two shoes: all pairs, a block of the first at a time.

    Along the first centred row a block looks at those near it alone. Without such a row the
    cheapest come first, and of the others those that may still be cheap enough.
    """
    if not len(search.window_n):
        a, b = (stacks.take(np.argsort(stacks.cost, kind="stable")) for stacks in (a, b))
    same, room = a.group == b.group, search.room - added
    near = np.flatnonzero(a.added <= (room / 2 if same else room - b.added.min()))
    rows = int(np.clip(PAIRS // len(b), 1, BLOCK))
    for start in range(0, len(near), rows):
        some = near[start : start + rows]
        some = some[a.cost[some] < search.below - before - b.cost.min()]
        if not len(some):
            continue
        if len(search.window_n):
            reach = a.off_n[some[[0, -1]], 0] + np.array([-1, 1]) * search.window_n[0]
            span = slice(*np.searchsorted(b.off_n[:, 0], reach).tolist())
        else:
            cheap = search.below - before - a.cost[some[0]]
            span = slice(0, int(np.searchsorted(b.cost, cheap)))
        cost = before + a.cost[some][:, None] + b.cost[span]
        left, right = np.nonzero(cost < search.below)
        if not search.work.spend(cost.size + TEST * len(left)):
            search.complete = False
            return
        i, j = some[left], right + span.start
        good = apart(a.discs[i], b.discs[j])
        if same:
            good &= a.rank[i] < b.rank[j]
        good &= (np.abs(a.off_n[i] - b.off_n[j]) <= search.window_n).all(1)
        if good.any():
            found = cost[left[good], right[good]]
            best = np.flatnonzero(good)[found.argmin()]
            pair = a.columns[i[best]], b.columns[j[best]]
            search.found((*chosen, *pair), float(found.min()))
