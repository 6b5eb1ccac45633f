"""What is judged by draws: candidates of one size for one clutch, in quantities from enough up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.model.catalog import Size
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate
from optimizer.orders.onhand import OnHand

#: an order larger than this many times the discs in its stacks is never proposed
MOST_TIMES = 3.0


@dataclass(frozen=True)
class Quantities:
    """How an order grows: `held` discs on hand, then packs of `pack`; from `least` to `most`.

    Where a size is sold in several packs, `pack` is the step by which quantities differ.
    """

    pack: int
    held: int
    least: int
    most: int

    @classmethod
    def of(cls, pack: int, held: int, needed: int) -> Quantities:
        """Return the packs between just enough discs and too many."""
        least = max(0, -(-(needed - held) // pack))
        return cls(pack, held, least, max(least, int(np.ceil(MOST_TIMES * needed / pack))))

    def discs(self, packs: int) -> int:
        """Return the discs there are with so many packs."""
        return self.held + packs * self.pack

    @property
    def most_discs(self) -> int:
        """Return the discs that must be drawn anew for the largest order."""
        return self.most * self.pack


@dataclass(frozen=True)
class Study:
    """Candidates of one size for one clutch, to be judged by the same draws."""

    clutch: OrderedClutch
    candidates: tuple[Candidate, ...]
    making: Manufacture
    on_hand: OnHand

    @property
    def size(self) -> Size:
        """Return the size."""
        return self.candidates[0].size

    def packs(self, candidate: Candidate) -> Quantities:
        """Return the orders that come into question."""
        needed = self.clutch.discs(candidate.pattern)
        return Quantities.of(self.size.step, len(self.on_hand), needed)
