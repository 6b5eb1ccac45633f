"""Discs that stay together, in a lot: each group as ready packets that are dealt as one."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.dealing import Items
from optimizer.mechanics.packet import Index, nesting_order
from optimizer.model.sizes import sizes

#: kinds of single packets are their sizes, 1 to 3; those of bundles begin here
FIRST_KIND = 10
#: kind of the unit that stands for nothing, and of packets that are dealt in their bundle alone
NOTHING = -1


@dataclass(frozen=True)
class Bundle:
    """Packets of discs that stay under one shoe: `counts` of sizes 1 to 3, and their discs.

    `must` tells that the job asks to use them.
    """

    packets: tuple[tuple[int, ...], ...]
    counts: tuple[int, int, int]
    must: bool

    @property
    def discs(self) -> int:
        """Return how many discs it has."""
        return sum(map(len, self.packets))


def bundles(task: Task, counts: tuple[int, int, int], least: Index) -> list[Bundle]:
    """Return the groups that fit into a stack of `counts` packets, asked ones and large ones first.

    A group of which a disc is not there to deal is none. `least` is the smallest packet that each
    disc of the bag bears to be in.
    """
    there, asked = set(task.usable.tolist()), set(task.use.tolist())
    found = []
    for group in task.together:
        if not there.issuperset(group.tolist()):
            continue
        packets = _nested(task, group, counts, least)
        if packets is not None:
            size = [len(packet) for packet in packets]
            of = (size.count(1), size.count(2), size.count(3))
            found.append(Bundle(packets, of, not asked.isdisjoint(group.tolist())))
    return sorted(found, key=lambda one: (not one.must, -one.discs))


def _nested(
    task: Task, group: Index, counts: tuple[int, int, int], least: Index
) -> tuple[tuple[int, ...], ...] | None:
    """Nest a group so that it takes of each size about the same share of a stack's packets."""
    d = task.discs
    if len(np.unique(sizes(d.od_mm[group], d.id_mm[group]))) > 1:
        counts = (counts[0], 0, 0)  # discs of unlike size do not nest
    ways = [
        way
        for way in product(*(range(count + 1) for count in counts))
        if way[0] + 2 * way[1] + 3 * way[2] == len(group)
    ]
    if not ways:
        return None
    best = min(ways, key=lambda way: max(w / c for w, c in zip(way, counts, strict=True) if c))
    # what bears least goes into the largest packets, neighbours in cone height together
    rows = group[np.lexsort((-d.cone_height_mm[group], -least[group]))]
    packets, at = [], 0
    for size in (3, 2, 1):
        for _ in range(best[size - 1]):
            nest = rows[at : at + size]
            packets.append(tuple(nest[nesting_order(d.cone_height_mm[nest])].tolist()))
            at += size
    return tuple(packets)


def rows_of(members: Index) -> dict[tuple[int, ...], int]:
    """Return the row of every packet of `members` (M, m), -1 where there is no disc."""
    return {tuple(d for d in row if d >= 0): at for at, row in enumerate(members.tolist())}


@dataclass(frozen=True)
@frozen_arrays
class Spread:
    """Bundles spread over T stacks: `held` are those of each, by their number in `groups`.

    `wanted` (T, 3) are the packets of sizes 1 to 3 that each stack still wants.
    """

    groups: list[Bundle]
    held: list[list[int]]
    wanted: Index

    @property
    def loose_discs(self) -> int:
        """Return how many discs the stacks still want."""
        return int((self.wanted @ np.array([1, 2, 3])).sum())

    @property
    def discs(self) -> Index:
        """Return the numbers of the discs that are in the stacks already."""
        packets = (p for one in self.held for g in one for p in self.groups[g].packets)
        return np.array([disc for packet in packets for disc in packet], dtype=np.intp)

    def enough(self, kind: Index) -> int:
        """Return for how many stacks, from the first on, units of kinds (U) are enough."""
        sums = np.cumsum(self.wanted, axis=0)
        return min(
            int(np.searchsorted(sums[:, k - 1], (kind == k).sum(), side="right")) for k in (1, 2, 3)
        )


def spread(groups: list[Bundle], counts: tuple[int, int, int], loose: int, stacks: int) -> Spread:
    """Spread the groups over `stacks`, or over as many as there are `loose` discs for as well."""
    while True:
        found = _filled(groups, counts, stacks)
        lacks = found.loose_discs - loose
        if lacks <= 0:
            return found
        stacks -= -(-lacks // (counts[0] + 2 * counts[1] + 3 * counts[2]))


def _filled(groups: list[Bundle], counts: tuple[int, int, int], stacks: int) -> Spread:
    """Put bundles into the stacks one after the other, round and round, as long as they fit."""
    held: list[list[int]] = [[] for _ in range(stacks)]
    free = np.tile(np.array(counts, dtype=np.intp), (stacks, 1))
    full: set[tuple[int, int, int]] = set()
    at = 0
    for number, one in enumerate(groups if stacks else ()):
        if one.counts in full:
            continue
        if not (free[at] >= one.counts).all():
            fits = np.flatnonzero((free >= one.counts).all(1))
            if not len(fits):
                full.add(one.counts)
                continue
            at = int(fits[np.searchsorted(fits, at) % len(fits)])
        held[at].append(number)
        free[at] -= one.counts
        at = (at + 1) % stacks
    return Spread(groups, held, free)


@dataclass(frozen=True)
@frozen_arrays
class Packed:
    """Units of which the first are single packets, then bundles; the last stands for nothing.

    `packets` are the single packets of each bundle.
    """

    units: Items
    packets: list[Index]

    def held(self, held: list[list[int]]) -> Index:
        """Return the units (T, Q) of the bundles of each stack, filled up with nothing."""
        most = max(map(len, held), default=0)
        nothing = len(self.units.kind) - 1
        first = nothing - len(self.packets)
        rows = [[first + g for g in one] + [nothing] * (most - len(one)) for one in held]
        return np.array(rows, dtype=np.intp).reshape(len(held), most)

    def singles(self, place: Index, packets: int) -> Index:
        """Turn sets (K, S, P) of units into sets of single packets, so many a stack."""
        if not self.packets:
            return place
        single = len(self.units.kind) - 1 - len(self.packets)
        every = [np.array([u]) for u in range(single)] + self.packets + [np.zeros(0, dtype=np.intp)]
        rows = [np.concatenate([every[u] for u in stack]) for one in place for stack in one]
        return np.array(rows, dtype=np.intp).reshape(*place.shape[:2], packets)


def packed(units: Items, members: Index, groups: list[Bundle], use: Index) -> Packed:
    """Add to single packets the bundles, of which every packet is among them, and a nothing.

    Parameters
    ----------
    members : the discs (U, m) of the single packets
    use : discs that must be dealt
    """
    row_of = rows_of(members) if groups else {}
    rows = [np.array([row_of[p] for p in one.packets], dtype=np.intp) for one in groups]
    kinds = {counts: FIRST_KIND + k for k, counts in enumerate({g.counts: 0 for g in groups})}
    values = [*(units.values[of].sum(0) for of in rows), np.zeros_like(units.values[0])]
    kind = [*(kinds[one.counts] for one in groups), NOTHING]
    must = [*(one.must for one in groups), False]
    single = units.kind.copy()
    single[np.concatenate([np.zeros(0, dtype=np.intp), *rows])] = NOTHING
    every = Items(
        np.concatenate([units.values, np.stack(values)]),
        np.concatenate([single, np.array(kind, dtype=np.intp)]),
        units.room,
        units.slack,
        units.free,
        np.concatenate([np.isin(members, use).any(1), np.array(must)]),
    )
    return Packed(every, rows)
