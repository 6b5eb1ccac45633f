"""Discs that stay together, in a lot: each group as a bundle of packets that is dealt as one.

A bundle is an array (p, 3) of disc numbers, bottom to top, -1 where a packet has fewer.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.dealing import Items
from optimizer.match.packets import counts_of
from optimizer.mechanics.packet import Index, nesting_order
from optimizer.model.sizes import sizes

#: kinds of single packets are their sizes, 1 to 3; those of bundles begin here
FIRST_KIND = 10
#: kind of the unit that stands for nothing, and of packets that are dealt in their bundle alone
NOTHING = -1

#: packets of size 1, 2 and 3
Counts = tuple[int, int, int]


def bundles(task: Task, counts: Counts, least: Index) -> list[Index]:
    """Return the groups that fit into a stack of `counts` packets, asked ones and large ones first.

    A group of which a disc is not there to deal is none. `least` is the smallest packet that each
    disc of the bag bears to be in.
    """
    there = set(task.usable.tolist())
    found = []
    for group in task.together:
        if there.issuperset(group.tolist()):
            packets = _nested(task, group, counts, least)
            if packets is not None:
                found.append(packets)
    return sorted(found, key=lambda one: (not np.isin(one, task.use).any(), -(one >= 0).sum()))


def _nested(task: Task, group: Index, counts: Counts, least: Index) -> Index | None:
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
    packets = np.full((sum(best), 3), -1, dtype=np.intp)
    at = 0
    for k, size in enumerate(np.repeat([3, 2, 1], best[::-1]).tolist()):
        nest = rows[at : at + size]
        packets[k, :size] = nest[nesting_order(d.cone_height_mm[nest])]
        at += size
    return packets


def rows_of(members: Index) -> dict[tuple[int, ...], int]:
    """Return the row of every packet of `members` (M, m), -1 where there is no disc."""
    return {tuple(d for d in row if d >= 0): at for at, row in enumerate(members.tolist())}


def discs_wanted(wanted: Index) -> int:
    """Return how many discs the packets `wanted` (T, 3) of sizes 1 to 3 take."""
    return int((wanted @ np.array([1, 2, 3])).sum())


def spread(groups: list[Index], counts: Counts, loose: int, stacks: int) -> tuple[Index, Index]:
    """Spread bundles over `stacks`, or over as many as there are `loose` discs for as well.

    Returns
    -------
    The numbers (T, Q) of the bundles of each stack, -1 where there are fewer, and the packets
    (T, 3) of sizes 1 to 3 that each still wants.
    """
    while True:
        held, wanted = _filled([counts_of(one) for one in groups], counts, stacks)
        lacks = discs_wanted(wanted) - loose
        if lacks <= 0:
            return held, wanted
        stacks -= -(-lacks // discs_wanted(np.array([counts])))


def _filled(groups: list[Counts], counts: Counts, stacks: int) -> tuple[Index, Index]:
    """Put bundles into the stacks one after the other, round and round, as long as they fit."""
    held: list[list[int]] = [[] for _ in range(stacks)]
    free = np.tile(np.array(counts, dtype=np.intp), (stacks, 1))
    full: set[Counts] = set()
    at = 0
    for number, one in enumerate(groups if stacks else ()):
        if one in full:
            continue
        if not (free[at] >= one).all():
            fits = np.flatnonzero((free >= one).all(1))
            if not len(fits):
                full.add(one)
                continue
            at = int(fits[np.searchsorted(fits, at) % len(fits)])
        held[at].append(number)
        free[at] -= one
        at = (at + 1) % stacks
    most = max(map(len, held), default=0)
    rows = [one + [-1] * (most - len(one)) for one in held]
    return np.array(rows, dtype=np.intp).reshape(stacks, most), free


def with_bundles(
    units: Items, members: Index, groups: list[Index], use: Index
) -> tuple[Items, Index]:
    """Add to single packets the bundles, of which every packet is among them, and a nothing.

    Parameters
    ----------
    members : the discs (U, m) of the single packets
    use : discs that must be dealt

    Returns
    -------
    The units, of which the last stands for nothing, and the single packets (U, p) of each, -1 where
    there are fewer.
    """
    row_of = rows_of(members) if groups else {}
    rows = [np.array([row_of[p] for p in rows_of(one)], dtype=np.intp) for one in groups]
    counts = [counts_of(one) for one in groups]
    kinds = {each: FIRST_KIND + k for k, each in enumerate(dict.fromkeys(counts))}
    values = [*(units.values[of].sum(0) for of in rows), np.zeros_like(units.values[0])]
    single = units.kind.copy()
    single[np.concatenate([np.zeros(0, dtype=np.intp), *rows])] = NOTHING
    must = [np.isin(one, use).any() for one in groups]
    every = replace(
        units,
        values=np.concatenate([units.values, np.stack(values)]),
        kind=np.concatenate([single, [*(kinds[each] for each in counts), NOTHING]]),
        must=np.concatenate([np.isin(members, use).any(1), [*must, False]]),
    )
    packets = np.full((len(every.kind), max([1, *map(len, rows)])), -1, dtype=np.intp)
    packets[: len(members), 0] = np.arange(len(members))
    for at, of in enumerate(rows, len(members)):
        packets[at, : len(of)] = of
    return every, packets
