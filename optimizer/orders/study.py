"""What is judged by draws: a size and pattern for one clutch, in quantities from enough up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate
from optimizer.orders.onhand import OnHand, none_on_hand

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
    """A size and pattern for one clutch, to be judged by draws; discs on hand are of that size."""

    clutch: OrderedClutch
    candidate: Candidate
    making: Manufacture
    on_hand: OnHand

    @classmethod
    def of(
        cls,
        clutch: OrderedClutch,
        candidate: Candidate,
        making: Manufacture,
        held: Mapping[str, OnHand],
    ) -> Study:
        """Return a study with what is `held` of its size, by the name of the size."""
        return cls(clutch, candidate, making, held.get(candidate.size.name, none_on_hand()))

    @property
    def needed(self) -> int:
        """Discs in all the stacks."""
        return self.clutch.discs(self.candidate.pattern)

    @property
    def packs(self) -> Quantities:
        """Return the quantities that come into question."""
        return Quantities.of(self.candidate.size.step, len(self.on_hand), self.needed)

    @property
    def sample_discs(self) -> int:
        """Discs of a sample, in whole steps of its packs: enough for one stack."""
        step = self.candidate.size.step
        return -(-self.candidate.pattern.discs // step) * step
