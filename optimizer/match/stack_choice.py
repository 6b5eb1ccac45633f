"""One stack for every shoe from lists of stacks: no disc twice, least variance, like travels.

The search goes through the stacks of the first shoe in the order of what they add to the
bound, and for each looks only at stacks of the others that share no disc with it and are
near it at every travel. What is left for the last two shoes is tried all at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.control import Work
from optimizer.match.stack_list import Stacks, apart
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: stacks of the last but one shoe tried against all of the last in one go
BLOCK = 256
#: work of looking at a stack beside a chosen one, of taking it along, and of choosing one;
#: that of looking at a pair of stacks is 1, and more for one that would be good enough
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
class _Offer:
    """Stacks of one shoe still possible, in the order of their first centred row.

    Shoes of one `kind` choose from the same list, in the order `rank` (N) of `added`.
    """

    kind: int
    rank: Index
    stacks: Stacks

    def take(self, rows: Index) -> _Offer:
        """Return those of `rows`."""
        return _Offer(self.kind, self.rank[rows], self.stacks.take(rows))


@dataclass(frozen=True)
class _Chosen:
    """Stacks chosen so far, by number, and what they add up to in N^2."""

    number: tuple[int, ...] = ()
    added: float = 0.0
    cost: float = 0.0


def choose(lists: Sequence[Stacks], kinds: Sequence[int], search: Search) -> None:
    """Find the set of least variance that takes one stack for every shoe; see `Search`.

    Parameters
    ----------
    lists : stacks of every kind
    kinds : kind of every shoe, two shoes at least, those of one kind next to each other
    """
    offers = [_offer(kind, stacks) for kind, stacks in enumerate(lists)]
    if all(len(offer.stacks) for offer in offers):
        _next([offers[kind] for kind in kinds], search, _Chosen())


def crowd(lists: Sequence[Stacks], window_n: Array, most: int) -> list[Stacks]:
    """Some stacks of each kind, `most` at most, that are like most others at every travel.

    Any of them go together, so a set is soon found among them, if not the best.
    """
    for c, window in enumerate(window_n):
        at = np.sort(np.concatenate([stacks.off_n[:, c] for stacks in lists]))
        within = np.searchsorted(at, at + window, side="right") - np.arange(len(at))
        low = at[within.argmax()] if len(at) else 0.0
        lists = [
            stacks.take(np.flatnonzero(np.abs(stacks.off_n[:, c] - low - window / 2) <= window / 2))
            for stacks in lists
        ]
    return [stacks.take(np.arange(0, len(stacks), len(stacks) // most + 1)) for stacks in lists]


def _offer(kind: int, stacks: Stacks) -> _Offer:
    rank = np.empty(len(stacks), dtype=np.intp)
    rank[np.argsort(stacks.added, kind="stable")] = np.arange(len(stacks))
    along = np.argsort(stacks.off_n[:, 0] if stacks.off_n.shape[1] else rank, kind="stable")
    return _Offer(kind, rank[along], stacks.take(along))


def _next(offers: list[_Offer], search: Search, chosen: _Chosen) -> None:
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
        near: dict[int, _Offer] = {}
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
    offer: _Offer, first: _Offer, row: int, most: float, dearest: float, search: Search
) -> _Offer:
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


def _last_two(one: _Offer, two: _Offer, search: Search, chosen: _Chosen) -> None:
    """Try all pairs of stacks for the last two shoes."""
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
