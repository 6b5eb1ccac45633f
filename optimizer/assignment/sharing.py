"""Share out chosen packets over like stacks: every way is looked at.

With the packets of a set given there are so few ways to fill one stack that all can be
listed. Those near the target are the pieces of a jigsaw that must cover all packets.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from optimizer.assignment.frame import Frame
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

#: ways to fill one stack that are listed at most
MOST_LISTED = 200_000
#: part of each window that is used, leaving the rest to rounding
INSIDE = 0.98

Masks = NDArray[np.uint64]


def shareable(frame: Frame) -> bool:
    """Whether all ways to fill one of the like stacks can be listed."""
    shoes = len(frame.patterns)
    ways = 1
    for count in frame.patterns[0].counts:
        ways *= comb(shoes * count, count)
    packets = shoes * frame.patterns[0].packets
    return frame.alike and ways <= MOST_LISTED and packets <= 63


def share_out(
    frame: Frame, chosen: Index, height_mm: tuple[float, float] | None
) -> tuple[Index, ...] | None:
    """Columns of each stack, so that every window is kept; None when no way does.

    Parameters
    ----------
    chosen : columns of all stacks together
    height_mm : window of the free height of a stack, None where it is free
    """
    shoes = len(frame.patterns)
    chosen = chosen[np.argsort(frame.columns.size[chosen], kind="stable")]
    values = np.stack([row.constant_n[chosen, 0] for row in frame.rows], axis=-1)
    free = frame.columns.free_mm[chosen]
    total, height, mask = np.zeros((1, values.shape[1])), np.zeros(1), np.zeros(1, dtype=np.uint64)
    start = 0
    for count in frame.patterns[0].counts:
        if not count:
            continue
        part = slice(start, start + shoes * count)
        ways = _ways(shoes * count, count)
        total = (total[:, None] + (ways @ values[part])[None]).reshape(-1, values.shape[1])
        height = (height[:, None] + (ways @ free[part])[None]).ravel()
        bits = np.uint64(1) << np.arange(start, start + shoes * count, dtype=np.uint64)
        mask = (mask[:, None] + (ways.astype(np.uint64) @ bits)[None]).ravel()
        start += shoes * count
    off = total - np.array([row.room_n[0] for row in frame.rows])
    window = np.array([INSIDE * row.window_n for row in frame.rows])
    level_free = np.array([row.centred for row in frame.rows])
    near = (level_free | (np.abs(off) <= window / 2)).all(1)
    if height_mm is not None:
        near &= (height >= height_mm[0]) & (height <= height_mm[1])
    pieces = np.flatnonzero(near)
    pieces = pieces[np.argsort(mask[pieces])]
    found = _cover(mask[pieces], off[pieces], window, (1 << len(chosen)) - 1, shoes)
    if found is None:
        return None
    return tuple(chosen[[i for i in range(len(chosen)) if int(m) >> i & 1]] for m in found)


@lru_cache(maxsize=64)
def _ways(units: int, count: int) -> Array:
    """Every choice of `count` of some units, as rows of noughts and ones."""
    rows = np.array(list(combinations(range(units), count)), dtype=np.intp)
    ways = np.zeros((len(rows), units))
    np.put_along_axis(ways, rows, 1.0, axis=1)
    return ways


def _cover(mask: Masks, off: Array, window: Array, left: int, stacks: int) -> list[int] | None:
    """Disjoint pieces that cover the units of `left`, alike within every window.

    The next piece is always one that holds the first unit left, so no cover comes twice.
    """
    first = np.uint64(left & -left)
    inside = (mask & ~np.uint64(left)) == 0
    picks = np.flatnonzero(inside & ((mask & first) != 0))
    if stacks == 1:
        whole = np.flatnonzero(mask == np.uint64(left))
        return [left] if len(whole) else None
    if stacks > 2:
        for pick in picks:
            near = (np.abs(off - off[pick]) <= window).all(1)
            rest = _cover(mask[near], off[near], window, left & ~int(mask[pick]), stacks - 1)
            if rest is not None:
                return [int(mask[pick]), *rest]
        return None
    other = np.uint64(left) ^ mask[picks]
    at = np.minimum(np.searchsorted(mask, other), max(len(mask) - 1, 0))
    good = (mask[at] == other) & (np.abs(off[at] - off[picks]) <= window).all(1)
    hit = np.flatnonzero(good)
    return [int(mask[picks[hit[0]]]), int(other[hit[0]])] if len(hit) else None
