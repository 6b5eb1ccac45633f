"""Share out chosen packets over like stacks: every way is looked at.

With the packets of a set given there are so few ways to fill one stack that all can be
listed. Those near the target are the pieces of a jigsaw that must cover all packets.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import comb, prod

import numpy as np
from numpy.typing import NDArray

from optimizer.assignment.frame import Frame
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

#: ways to fill one stack that are listed at most
MOST_LISTED = 200_000
#: ways listed in one go, so that their numbers stay in the processor's cache
BATCH = 60_000
#: packets that the bits of a mask can tell apart
MOST_PACKETS = 63
#: part of each window that is used, leaving the rest to rounding
INSIDE = 0.98

Masks = NDArray[np.uint64]


def shareable(frame: Frame) -> bool:
    """Whether all ways to fill one of the like stacks can be listed."""
    packets = len(frame.patterns) * frame.patterns[0].packets
    return frame.alike and ways_to_fill(frame) <= MOST_LISTED and packets <= MOST_PACKETS


def ways_to_fill(frame: Frame) -> int:
    """Ways to fill one of the like stacks from the packets of all."""
    return prod(comb(len(frame.patterns) * count, count) for count in frame.patterns[0].counts)


def share_first(
    frame: Frame, candidates: Index, height_mm: tuple[float, float] | None
) -> tuple[Index, ...] | None:
    """Columns of each stack of the first set that can be shared out within every window.

    Parameters
    ----------
    candidates : (V, P) columns of all stacks together, packets of one size at one place
    height_mm : window of the free height of a stack, None where it is free
    """
    shoes, counts = len(frame.patterns), frame.patterns[0].counts
    order = np.argsort(frame.columns.size[candidates[0]], kind="stable")
    mask, sizes = _stacks(shoes, counts)
    window = np.array([INSIDE * row.window_n for row in frame.rows])
    batch = max(BATCH // len(mask), 1)
    for start in range(0, len(candidates), batch):
        chosen = candidates[start : start + batch, order]
        off, near = _listed(frame, chosen, window, height_mm, sizes)
        for at in np.flatnonzero(near.sum(1) >= shoes):
            pieces = np.flatnonzero(near[at])
            found = _cover(mask[pieces], off[at, pieces], window, (1 << len(order)) - 1, shoes)
            if found is not None:
                unit = np.arange(len(order))
                return tuple(chosen[at, (m >> unit & 1).astype(bool)] for m in found)
    return None


def _listed(
    frame: Frame,
    chosen: Index,
    window: Array,
    height_mm: tuple[float, float] | None,
    sizes: tuple[tuple[slice, Array, Index], ...],
) -> tuple[Array, NDArray[np.bool_]]:
    """Every stack of each choice (V, P): how far it is off (V, W, R), and whether near."""
    values = np.stack([row.constant_n[:, 0] for row in frame.rows], axis=-1)
    off = sum((ways @ values[chosen[:, part]])[:, at] for part, ways, at in sizes)
    off = np.asarray(off) - np.array([row.room_n[0] for row in frame.rows])
    level_free = np.array([row.centred for row in frame.rows])
    near = (level_free | (np.abs(off) <= window / 2)).all(-1)
    if height_mm is not None:
        free = frame.columns.free_mm[chosen]
        height = sum((free[:, part] @ ways.T)[:, at] for part, ways, at in sizes)
        height = np.asarray(height)
        near &= (height >= height_mm[0]) & (height <= height_mm[1])
    return off, near


@lru_cache(maxsize=8)
def _stacks(
    shoes: int, counts: tuple[int, ...]
) -> tuple[Masks, tuple[tuple[slice, Array, Index], ...]]:
    """List all stacks: masks (W) in order, and for each size its units, ways and which (W)."""
    ways, parts, masks, start = [], [], [], 0
    for count in filter(None, counts):
        parts.append(slice(start, start + shoes * count))
        ways.append(_ways(shoes * count, count))
        bits = np.uint64(1) << np.arange(start, start + shoes * count, dtype=np.uint64)
        masks.append(ways[-1].astype(np.uint64) @ bits)
        start += shoes * count
    which = np.indices([len(w) for w in ways]).reshape(len(ways), -1)
    mask: Masks = np.stack([m[at] for m, at in zip(masks, which, strict=True)]).sum(0)
    order = np.argsort(mask)
    return mask[order], tuple(zip(parts, ways, which[:, order], strict=True))


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
