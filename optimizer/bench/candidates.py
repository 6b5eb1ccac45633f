"""Exchanges that are made at once: one, several within a stack, two anywhere.

Those after which the loads are believed nearest together are kept of each kind; they are judged
by minutes later.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.bench.ahead import Ahead
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index

#: single exchanges of each number of stacks, pairs of them, and those within one stack, that are
#: kept, nearest loads first
SINGLE, PAIRED, WITHIN = 60, 60, 12
#: exchanges that are combined by two, and within one stack
COMBINED, OF_A_STACK = 350, 60
#: exchanges within a stack at once
MOST_WITHIN = 4


def candidates(ahead: Ahead) -> Iterator[Index]:
    """Rows of single exchanges (K, m) that are made at once."""
    spread = _spread(ahead, ahead.change_n)
    order = np.argsort(spread, kind="stable")
    opened = ahead.touched.sum(1)
    stacks = opened[order]
    yield np.concatenate([order[stacks == n][:SINGLE] for n in np.unique(stacks)])[:, None]
    yield _pairs(ahead, order)
    for shoe in range(ahead.touched.shape[1]):
        yield from _within(ahead, np.flatnonzero(ahead.touched[:, shoe] & (opened == 1)))


def _spread(ahead: Ahead, change_n: Array) -> Array:
    """Spread of the loads as believed after changes (..., S)."""
    loads_n = (ahead.now.mean_n + change_n) * ahead.task.weight
    spread: Array = loads_n.max(axis=-1) - loads_n.min(axis=-1)
    return spread


def _pairs(ahead: Ahead, order: Index) -> Index:
    """Pairs (K, 2) of single exchanges that share no disc and no packet, nearest loads first.

    Single ones are taken evenly from those that bring loads together and those that do
    not: two far ones may cancel.
    """
    some = order[:: max(1, -(-len(order) // COMBINED))]
    i, j = np.triu_indices(len(some), 1)
    i, j = some[i], some[j]
    spread = _spread(ahead, ahead.change_n[i] + ahead.change_n[j])
    near = np.argsort(spread, kind="stable")[: 8 * PAIRED]
    i, j = i[near], j[near]
    return np.stack([i, j], 1)[_apart(ahead, i, j)][:PAIRED]


def _within(ahead: Ahead, own: Index) -> Iterator[Index]:
    """Two, three and four exchanges of one stack with spares, each grown from the best before."""
    own = own[np.argsort(ahead.change_n[own].sum(1), kind="stable")]
    own = own[:: max(1, -(-len(own) // OF_A_STACK))]
    grown = own[:, None]
    for _ in range(1, MOST_WITHIN):
        i, j = np.repeat(np.arange(len(grown)), len(own)), np.tile(own, len(grown))
        apart = np.ones(len(i), dtype=bool)
        for m in range(grown.shape[1]):
            apart &= _apart(ahead, grown[i, m], j)
        rows = np.concatenate([grown[i], j[:, None]], axis=1)[apart]
        rows = np.unique(np.sort(rows, axis=1), axis=0)
        if not len(rows):
            return
        spread = _spread(ahead, ahead.change_n[rows].sum(1))
        grown = rows[np.argsort(spread, kind="stable")[:WITHIN]]
        yield grown


def _apart(ahead: Ahead, i: Index, j: Index) -> Mask:
    """Whether two exchanges share no disc and no packet."""
    swaps = ahead.swaps
    apart = np.ones(len(i), dtype=bool)
    for a in (0, 1):
        for b in (0, 1):
            held = (swaps.stack[i, a] >= 0) & (swaps.stack[i, a] == swaps.stack[j, b])
            apart &= swaps.disc[i, a] != swaps.disc[j, b]
            apart &= ~(held & (swaps.packet[i, a] == swaps.packet[j, b]))
    return apart
