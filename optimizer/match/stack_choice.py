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
from optimizer.frozen import frozen_arrays, taken
from optimizer.match.stack_list import StackList, apart
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

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
    chosen: tuple[int, ...] | None = None
    complete: bool = True

    def found(self, chosen: tuple[int, ...], cost: float) -> None:
        """Keep a better set."""
        self.chosen, self.below = chosen, cost
        self.room = min(self.room, cost - self.bound)


@dataclass(frozen=True)
@frozen_arrays
class _Options:
    """Stacks of one shoe that are still possible, in the order of their first centred row.

    Shoes of one `kind` choose from the same list, in the order `rank` (N) of `added`.
    """

    kind: int
    rank: Index
    stacks: StackList

    def take(self, rows: Index) -> _Options:
        """Return those of `rows`."""
        return taken(self, rows)


@dataclass(frozen=True)
class _Chosen:
    """Stacks chosen so far, by number, and what they add up to in N^2."""

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
    """Stacks of an offer that go with stack `row` of the first one.

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
    """Choose the stacks of the last two shoes: all pairs, a block of the first at a time.

    Along the first centred row a block looks at those near it alone. Without such a row the
    cheapest come first, and of the others those that may still be cheap enough.
    """
    if not len(search.window_n):
        one, two = (o.take(np.argsort(o.stacks.cost, kind="stable")) for o in (one, two))
    a, b = one.stacks, two.stacks
    if not len(b):
        return
    same, room = one.kind == two.kind, search.room - chosen.added
    near = np.flatnonzero(a.added <= (room / 2 if same else room - b.added.min()))
    rows = int(np.clip(PAIRS // len(b), 1, BLOCK))
    for start in range(0, len(near), rows):
        some = near[start : start + rows]
        some = some[a.cost[some] < search.below - chosen.cost - b.cost.min()]
        if not len(some):
            continue
        if len(search.window_n):
            reach = a.off_n[some[[0, -1]], 0] + np.array([-1, 1]) * search.window_n[0]
            span = slice(*np.searchsorted(b.off_n[:, 0], reach).tolist())
        else:
            cheap = search.below - chosen.cost - a.cost[some[0]]
            span = slice(0, int(np.searchsorted(b.cost, cheap)))
        cost = chosen.cost + a.cost[some][:, None] + b.cost[span]
        left, right = np.nonzero(cost < search.below)
        if not search.work.spend(cost.size + TEST * len(left)):
            search.complete = False
            return
        i, j = some[left], right + span.start
        good = apart(a.discs[i], b.discs[j])
        if same:
            good &= one.rank[i] < two.rank[j]
        good &= (np.abs(a.off_n[i] - b.off_n[j]) <= search.window_n).all(1)
        if good.any():
            found = cost[left[good], right[good]]
            best = np.flatnonzero(good)[found.argmin()]
            pair = int(a.number[i[best]]), int(b.number[j[best]])
            search.found((*chosen.number, *pair), float(found.min()))
