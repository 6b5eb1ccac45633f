"""Wear and a heavy hand on the bolts, as changes of travel, preload and mass.

Each has one sign, and a reason for it:

    drum worn by d        shoes travel d further, stacks are pressed d more: later
    lining worn by d      the same, and the shoes lose mass: later twice
    seat worn by d        stacks have d more room, so d less preload at rest and at the
                          drum: earlier
    bolts d too tight     stacks have d less room, so d more preload: later

A shoe that travels further has its centre of gravity further out at the drum, which throws
it out harder; drum and lining wear are later in spite of that as long as the stack's load
rises faster than the radius, rate/load > 1/radius. On the seating datum wear of seats and
tight bolts count until the stacks are seated and zeroed anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from optimizer.clutch.shoes import Shoes
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array

#: mass a shoe loses per mm of lining, as a share of its mass: an assumption, not a measurement
LINING_SHARE_PER_MM = 0.012


@dataclass(frozen=True)
@frozen_arrays
class Wear:
    """Wear of S shoes in mm, each a scalar for all shoes or an array of S.

    `tightened_mm` is how much shorter than it should be tight bolts make the room of the
    stack; `lining_g_per_mm` the mass that a shoe loses with its lining.
    """

    drum_mm: Array | float = 0.0
    lining_mm: Array | float = 0.0
    seat_mm: Array | float = 0.0
    tightened_mm: Array | float = 0.0
    lining_g_per_mm: Array | float = 0.0

    @property
    def further_mm(self) -> Array | float:
        """How much further the shoe travels to the drum."""
        return self.drum_mm + self.lining_mm

    @property
    def preload_mm(self) -> Array | float:
        """How much more the stack is pressed at rest."""
        return self.tightened_mm - self.seat_mm


def worn_shoes(shoes: Shoes, wear: Wear) -> Shoes:
    """Return the shoes with the travel and mass that wear leaves them."""
    return replace(
        shoes,
        travel_mm=shoes.travel_mm + wear.further_mm,
        mass_g=shoes.mass_g - wear.lining_mm * wear.lining_g_per_mm,
    )
