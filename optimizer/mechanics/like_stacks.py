"""Stacks of like discs in every pattern: what nominal discs, or the middling one of a bag, give.

At one load all packets of a size are alike, so that what adds up along a stack is the numbers of
its packets times the values of a single, a pair and a triple (the identity of `constant.py`). Only
the load at a given travel has to be searched for, stack by stack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs, Mask, discs
from optimizer.mechanics.packet import Index, LoadModel, Packets, packets, residual_cone_height
from optimizer.model.catalog import Size
from optimizer.model.pattern import Pattern

#: places of the disc in a single, a pair and a triple of it, and in none (4, 3)
NESTED: Index = np.array([[0, -1, -1], [0, 0, -1], [0, 0, 0], [-1, -1, -1]])


def nominal(sizes: Sequence[Size], flat_mm: float = 0.0, poisson: float = 0.3) -> Discs:
    """Return one nominal disc of each size, dressed to flats of `flat_mm`."""
    return discs(
        [s.od_mm for s in sizes],
        [s.id_mm for s in sizes],
        [s.thickness_mm for s in sizes],
        [s.cone_height_mm for s in sizes],
        flat_mm,
        [s.modulus_mpa for s in sizes],
        poisson,
    )


def nested(discs: int) -> Index:
    """Members (D, 4, 3) of a single, a pair and a triple of each of so many discs, and of none."""
    return np.where(NESTED < 0, -1, np.arange(discs)[:, None, None])


@dataclass(frozen=True)
@frozen_arrays
class LikeStacks:
    """Stacks of each of D discs in K patterns.

    `nested` (D, 4) are a single, a pair and a triple of each disc, and an empty place.
    """

    kinds: tuple[Pattern, ...]
    nested: Packets

    @staticmethod
    def of(disc: Discs, kinds: Sequence[Pattern], model: LoadModel) -> LikeStacks:
        """Nest each of the discs (D) with its like."""
        return LikeStacks(tuple(kinds), packets(disc, nested(len(disc.od_mm)), model))

    @cached_property
    def packets(self) -> Packets:
        """Single, pair and triple of each disc (D, 3)."""
        return self.nested.take((slice(None), slice(3)))

    @cached_property
    def counts(self) -> Index:
        """Packets of each size in each pattern (K, 3)."""
        return np.array([kind.counts for kind in self.kinds], dtype=np.intp).reshape(-1, 3)

    def total(self, each: Array) -> Array:
        """Sum (D, K) along every stack of what its packets (D, 3) have `each`."""
        return np.asarray(each @ self.counts.T)

    def least(self, each: Array) -> Array:
        """Least (D, K) of the packets of every stack."""
        return np.asarray(np.where(self.counts > 0, each[:, None, :], np.inf).min(-1))

    def greatest(self, each: Array) -> Array:
        """Greatest (D, K) of the packets of every stack."""
        return -self.least(-each)

    @property
    def free_height_mm(self) -> Array:
        """Unloaded height (D, K) without shims."""
        return self.total(self.packets.height_mm + self.packets.free_mm)

    def within_height(self, window_mm: tuple[float, float]) -> Mask:
        """Tell which (D, K) have a free height in the window."""
        low, high = window_mm
        return np.asarray((self.free_height_mm >= low) & (self.free_height_mm <= high))

    def constant_mm(self, force_n: float, datum: Datum) -> Array:
        """What the constants of every stack (D, K) add up to at a load."""
        return self.total(datum.base_mm(self.packets) - residual_cone_height(self.packets, force_n))

    def stacks(self, disc: Index | int, kind: Index) -> Packets:
        """Return the packets (N, P) of some stacks: of a disc (N) each, in a pattern (N)."""
        some = [self.kinds[k] for k in kind]
        place = np.full((len(some), max((s.packets for s in some), default=1)), 3, dtype=np.intp)
        for row, pattern in enumerate(some):
            place[row, : pattern.packets] = np.array(pattern.sizes) - 1
        return self.nested.take((np.reshape(disc, (-1, 1)), place))
