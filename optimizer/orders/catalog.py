"""A catalog: the sizes that can be bought, and which of them fit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import Model, load, packets
from optimizer.orders.limits import Limits, guide_clearance_mm

#: deflection at which standards and makers print a load, as a share of the cone height
PRINTED_AT = 0.75


@dataclass(frozen=True)
class Size:
    """One size as sold: nominal lengths in mm, what may be delivered, pack and price.

    `price` is for a pack of `pack` discs; None where the catalog gives none.
    """

    name: str
    od_mm: float
    id_mm: float
    thickness_mm: float
    cone_height_mm: float
    modulus_mpa: float
    limits: Limits
    standard: str = ""
    material: str = ""
    pack: int = 1
    price: float | None = None
    currency: str = ""
    lead_days: float | None = None
    note: str = ""

    @property
    def steepness(self) -> float:
        """Cone height over thickness."""
        return self.cone_height_mm / self.thickness_mm

    @property
    def shape(self) -> tuple[float, ...]:
        """Nominal lengths in mm: the same disc may be sold in several packs."""
        return self.od_mm, self.id_mm, self.thickness_mm, self.cone_height_mm


@dataclass(frozen=True)
class Catalog:
    """Sizes in the order of the file, and what looked odd in it."""

    path: Path
    sizes: tuple[Size, ...]
    warnings: tuple[str, ...] = ()


def nominal(sizes: tuple[Size, ...], flat_mm: float = 0.0, poisson: float = 0.3) -> Discs:
    """Return one nominal disc of each size."""
    return discs(
        [s.od_mm for s in sizes],
        [s.id_mm for s in sizes],
        [s.thickness_mm for s in sizes],
        [s.cone_height_mm for s in sizes],
        flat_mm,
        [s.modulus_mpa for s in sizes],
        poisson,
    )


def printed_load_n(sizes: tuple[Size, ...]) -> Array:
    """Load in N of a nominal sharp disc at 0.75 of its cone height (EN 16984)."""
    alone = packets(nominal(sizes), np.arange(len(sizes))[:, None], Model(en16984))
    return load(alone, (1 - PRINTED_AT) * alone.free_mm)


def fitting(
    sizes: tuple[Size, ...], bore_mm: float | None = None, room_mm: float | None = None
) -> tuple[Size, ...]:
    """Return the sizes that go over a guide of `bore_mm` and into a room of `room_mm`.

    Notes
    -----
    The play is that of EN 16983, total on the diameter, and the widest outside and the
    narrowest inside diameter that may be delivered must have it.
    """
    slack = 1e-9  # of rounding
    return tuple(
        size
        for size in sizes
        if (bore_mm is None or _narrowest_mm(size) >= bore_mm - slack)
        and (room_mm is None or _widest_mm(size) <= room_mm + slack)
    )


def _narrowest_mm(size: Size) -> float:
    return size.id_mm + size.limits.id.lower - guide_clearance_mm(size.id_mm)


def _widest_mm(size: Size) -> float:
    return size.od_mm + size.limits.od.upper + guide_clearance_mm(size.od_mm)
