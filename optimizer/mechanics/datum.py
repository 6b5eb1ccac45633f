"""Where the deflection of a stack is counted from: a load it is zeroed at, or its room at rest.

Every packet rests, before the travel begins, on a `base_mm`: what its own deflection is counted
from. A stack is then pressed by the sum of (free - base) and by the `required_travel_mm`, the
right-hand side of the linear identity in `constant.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, Packets, residual_cone_height
from optimizer.mechanics.sensitivity import residual_cone_gradient


@dataclass(frozen=True)
class Seating:
    """Travel is counted from where the stack carries `load_n`; its height cancels, so do shims."""

    load_n: float
    #: whether stacks have a room at rest, which shims fill and in which they may hang loose
    has_room: ClassVar[bool] = False

    def base_mm(self, p: Packets) -> Array:
        """Cone height in mm that packets have left at the seating load."""
        return residual_cone_height(p, self.load_n)

    def base_gradient(self, d: Discs, members: Index, model: LoadModel) -> Array:
        """Change of the base by thickness, cone height and ln(stiffness) of each disc."""
        return residual_cone_gradient(d, members, model, self.load_n)

    def required_travel_mm(self, travel_mm: Array | float, shims_mm: Array | float = 0.0) -> Array:
        """Travel in mm from the base."""
        return np.asarray(travel_mm + np.zeros_like(shims_mm), dtype=np.float64)

    def lengths_mm(self, shoes: int) -> Array:
        """Room in mm under each of `shoes` (S); 0 where none is counted."""
        return np.zeros(shoes)

    def under(self, shoe: Index, shoes: int) -> Seating:
        """Return the datum of stacks under shoes (R), numbered from 0, of a clutch with `shoes`."""
        return self

    def with_shims(self, shims_mm: Array) -> Seating:
        """Return the datum with shims (S) already in place."""
        return self


@dataclass(frozen=True)
@frozen_arrays
class Installed:
    """At rest stack and shims fill `length_mm` (scalar, or one value a stack)."""

    length_mm: float | Array
    #: measured from its room, a stack carries nothing there
    load_n: ClassVar[float] = 0.0
    has_room: ClassVar[bool] = True

    def base_mm(self, p: Packets) -> Array:
        """Minus the height in mm of flat packets."""
        return -p.height_mm

    def base_gradient(self, d: Discs, members: Index, model: LoadModel) -> Array:
        """As `Seating.base_gradient`: a thicker disc leaves that much less room."""
        gradient = np.zeros((*members.shape, 3))
        gradient[..., 0] = -1.0
        return gradient

    def required_travel_mm(self, travel_mm: Array | float, shims_mm: Array | float = 0.0) -> Array:
        """Travel in mm and shims, less the room."""
        return np.asarray(travel_mm + shims_mm - self.length_mm, dtype=np.float64)

    def lengths_mm(self, shoes: int) -> Array:
        """Room in mm under each of `shoes` (S)."""
        return np.array(np.broadcast_to(self.length_mm, (shoes,)), dtype=np.float64)

    def under(self, shoe: Index, shoes: int) -> Installed:
        """As `Seating.under`."""
        return Installed(self.lengths_mm(shoes)[shoe])

    def with_shims(self, shims_mm: Array) -> Installed:
        """As `Seating.with_shims`."""
        return Installed(np.asarray(self.length_mm) - shims_mm)


Datum = Seating | Installed
