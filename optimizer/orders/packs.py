"""The quantities that come into question: from just enough discs to too many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
