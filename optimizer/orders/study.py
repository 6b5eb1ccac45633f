"""What is judged by draws: candidates of one size for one clutch."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate
from optimizer.orders.onhand import OnHand
from optimizer.orders.packs import Quantities


@dataclass(frozen=True)
class Study:
    """Candidates of one size for one clutch, to be judged by the same draws."""

    clutch: OrderedClutch
    candidates: tuple[Candidate, ...]
    making: Manufacture
    on_hand: OnHand

    def packs(self, candidate: Candidate, sets: int | None = None) -> Quantities:
        """Return the orders that come into question."""
        sets = self.clutch.sets if sets is None else sets
        needed = candidate.pattern.discs * self.clutch.shoes * sets
        return Quantities.of(candidate.size.step, len(self.on_hand), needed)
