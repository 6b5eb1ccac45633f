"""One stack for every shoe from lists of stacks: no disc twice, least variance, like travels.

The search goes through the stacks of the first shoe in the order of what they add to the
bound, and for each looks only at stacks of the others that share no disc with it and are
near it at every travel. What is left for the last two shoes is tried all at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.control import Work
from optimizer.frozen import frozen_arrays
from optimizer.match.stack_list import StackList, apart
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: stacks of the last shoe tried in one go
BLOCK = 256
#: work of looking at a stack beside a chosen one, of taking it along, of choosing one, and of a
#: pair that would be good enough; that of looking at a pair is 1
LOOK, TAKE, TURN, TEST = 2, 30, 8000, 10
#: pairs of stacks up to which all are tried at once
FEW_PAIRS = 1_000_000


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
    chosen: tuple[int, ...] | None = None
    complete: bool = True

    def found(self, chosen: tuple[int, ...], cost: float) -> None:
        """Keep a better set."""
        self.chosen, self.below = chosen, cost
        self.room = min(self.room, cost - self.bound)


@dataclass(frozen=True)
@frozen_arrays
class _Options:
    """StackList of one shoe still possible, in the order of their first centred row.

    Shoes of one `kind` choose from the same list, in the order `rank` (N) of `added`.
    """

    kind: int
    rank: Index
    stacks: StackList

    def take(self, rows: Index) -> _Options:
        """Return those of `rows`."""
        return _Options(self.kind, self.rank[rows], self.stacks.take(rows))


@dataclass(frozen=True)
class _Chosen:
    """StackList chosen so far, by number, and what they add up to in N^2."""

    number: tuple[int, ...] = ()
    added: float = 0.0
    cost: float = 0.0


def choose(lists: Sequence[StackList], kinds: Sequence[int], search: Search) -> None:
    """Find the set of least variance that takes one stack for every shoe; see `Search`.

    Parameters
    ----------
    lists : stacks of every kind
    kinds : kind of every shoe, those of one kind next to each other
    """
    offers = [_offer(kind, stacks) for kind, stacks in enumerate(lists)]
    if len(kinds) == 1:
        _only(offers[0].stacks, search)
    elif all(len(offer.stacks) for offer in offers):
        _next([offers[kind] for kind in kinds], search, _Chosen())


def _only(stacks: StackList, search: Search) -> None:
    """Take the best stack of a clutch of one shoe."""
    rows = np.flatnonzero((stacks.added <= search.room) & (stacks.cost < search.below))
    if len(rows):
        best = rows[stacks.cost[rows].argmin()]
        search.found((int(stacks.number[best]),), float(stacks.cost[best]))


def _offer(kind: int, stacks: StackList) -> _Options:
    rank = np.empty(len(stacks), dtype=np.intp)
    rank[np.argsort(stacks.added, kind="stable")] = np.arange(len(stacks))
    along = np.argsort(stacks.off_n[:, 0] if stacks.off_n.shape[1] else rank, kind="stable")
    return _Options(kind, rank[along], stacks.take(along))


def _next(offers: list[_Options], search: Search, chosen: _Chosen) -> None:
    """Choose the stack of the next shoe, then those of the others."""
    if len(offers) == 2:
        _last_two(offers[0], offers[1], search, chosen)
        return
    first, *others = offers
    stacks = first.stacks
    least = np.array([offer.stacks.added.min() for offer in others])
    cheapest = np.array([offer.stacks.cost.min() for offer in others])
    after = np.array([offer.kind == first.kind for offer in others])
    for row in np.argsort(first.rank, kind="stable").tolist():
        own = float(stacks.added[row])
        rest = np.where(after, own, least)
        left = search.room - chosen.added - own
        if left < rest.sum() or search.below <= search.enough:
            break
        if not search.work.spend(TURN) or search.over():
            search.complete = False
            break
        cost = chosen.cost + float(stacks.cost[row])
        near: dict[int, _Options] = {}
        for offer, own_least, own_cheapest in zip(others, rest, cheapest, strict=True):
            if offer.kind not in near:
                most = left - float(rest.sum() - own_least)
                dearest = search.below - cost - float(cheapest.sum() - own_cheapest)
                near[offer.kind] = _near(offer, first, row, most, dearest, search)
                if not len(near[offer.kind].stacks):
                    break
        else:
            now = _Chosen((*chosen.number, int(stacks.number[row])), chosen.added + own, cost)
            _next([near[offer.kind] for offer in others], search, now)


def _near(
    offer: _Options, first: _Options, row: int, most: float, dearest: float, search: Search
) -> _Options:
    """StackList of an offer that go with stack `row` of the first one.

    They add at most `most` to the bound and have a variance below `dearest`, in N^2.
    """
    stacks, own = offer.stacks, first.stacks.off_n[row]
    span = slice(0, len(stacks))
    if len(search.window_n):
        reach = own[0] + np.array([-1, 1]) * search.window_n[0]
        span = slice(*np.searchsorted(stacks.off_n[:, 0], reach).tolist())
    search.work.spend(LOOK * (span.stop - span.start))
    free = np.flatnonzero(apart(stacks.discs[span], first.stacks.discs[row])) + span.start
    good = (stacks.added[free] <= most) & (stacks.cost[free] < dearest)
    if offer.kind == first.kind:
        good &= offer.rank[free] > first.rank[row]
    for c in range(1, len(search.window_n)):
        good &= np.abs(stacks.off_n[free, c] - own[c]) <= search.window_n[c]
    taken = free[good]
    search.work.spend(TAKE * len(taken))
    return offer.take(taken)


def _last_two(one: _Options, two: _Options, search: Search, chosen: _Chosen) -> None:
    """Choose the stacks of the last two shoes."""
    few = len(one.stacks) * len(two.stacks) <= FEW_PAIRS
    (_all_pairs if few else _row_by_row)(one, two, search, chosen)


def _all_pairs(one: _Options, two: _Options, search: Search, chosen: _Chosen) -> None:
    """Try all pairs of two short lists at once."""
    a, b = one.stacks, two.stacks
    room = search.room - chosen.added
    same = one.kind == two.kind
    firsts = np.flatnonzero(a.added <= (room / 2 if same else room - b.added.min()))
    for start in range(0, len(firsts), BLOCK):
        some = firsts[start : start + BLOCK]
        cost = chosen.cost + a.cost[some][:, None] + b.cost
        left, right = np.nonzero(cost < search.below)
        search.work.spend(cost.size + TEST * len(left))
        rows = some[left]
        good = apart(a.discs[rows], b.discs[right])
        if same:
            good &= one.rank[rows] < two.rank[right]
        good &= (np.abs(a.off_n[rows] - b.off_n[right]) <= search.window_n).all(1)
        if good.any():
            left, right = left[good], right[good]
            best = cost[left, right].argmin()
            pair = int(a.number[some[left[best]]]), int(b.number[right[best]])
            search.found((*chosen.number, *pair), float(cost[left[best], right[best]]))


def _row_by_row(one: _Options, two: _Options, search: Search, chosen: _Chosen) -> None:
    """Try the stacks of one long list, the cheapest first, against those that go with it."""
    a, b = one.stacks, two.stacks
    room = search.room - chosen.added
    cheapest = float(b.cost.min(initial=np.inf))
    by_cost = np.argsort(b.cost, kind="stable")
    for row in np.argsort(a.cost, kind="stable").tolist():
        cost = chosen.cost + float(a.cost[row])
        if cost + cheapest >= search.below or search.below <= search.enough:
            return
        for some in _partners(b, by_cost, a.off_n[row], search.below - cost, search.window_n):
            if not search.work.spend(TURN + LOOK * len(some)):
                search.complete = False
                return
            good = some[b.added[some] <= room - a.added[row]]
            if one.kind == two.kind:
                good = good[one.rank[row] < two.rank[good]]
            good = good[apart(b.discs[good], a.discs[row])]
            search.work.spend(TAKE * len(good))
            if len(good):
                best = int(good[b.cost[good].argmin()])
                pair = int(a.number[row]), int(b.number[best])
                search.found((*chosen.number, *pair), cost + float(b.cost[best]))
                break


def _partners(
    b: StackList, by_cost: Index, off_n: Array, below: float, window_n: Array
) -> Iterator[Index]:
    """StackList of `b` that cost less than `below` and are like one with `off_n`, some at a time.

    Without windows the cheapest come first; with them all at once, found along the first.
    """
    if not len(window_n):
        last = int(np.searchsorted(b.cost[by_cost], below))
        for start in range(0, last, BLOCK):
            yield by_cost[start : min(start + BLOCK, last)]
        return
    ends = np.searchsorted(b.off_n[:, 0], off_n[0] + np.array([-1, 1]) * window_n[0])
    span = np.arange(*ends.tolist())
    like = (np.abs(b.off_n[span] - off_n) <= window_n).all(1)
    yield span[like & (b.cost[span] < below)]
