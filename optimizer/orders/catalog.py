"""A catalog: the sizes that can be bought, and which of them fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import gcd
from pathlib import Path

import numpy as np

from optimizer.errors import CannotBuildError, Problem
from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, load, packets
from optimizer.orders.limits import SizeTolerances, guide_clearance_mm

#: deflection at which standards and makers print a load, as a share of the cone height
PRINTED_AT = 0.75


@dataclass(frozen=True)
class Supplier:
    """Who sells: what one delivery costs, and the least value of goods that is sent."""

    name: str = ""
    delivery: float = 0.0
    minimum: float = 0.0


#: the supplier of a catalog that names none
NOBODY = Supplier()


@dataclass(frozen=True)
class Offer:
    """One row of a catalog: packs of `pack` discs.

    `price` is for a pack where `from_packs` or more are bought, None where the catalog gives
    none; `stock_packs` and `lead_days` are None where nothing is said.
    """

    name: str
    pack: int = 1
    price: float | None = None
    from_packs: int = 1
    stock_packs: int | None = None
    lead_days: float | None = None
    supplier: Supplier = NOBODY


#: how a size is sold where nothing is said
ONE_BY_ONE = (Offer(""),)


@dataclass(frozen=True)
class Size:
    """One size: nominal lengths in mm, what may be delivered, and how it is sold.

    All its offers are of the same disc; packs bought together from one supplier count as of one
    lot, and an order of it comes from one supplier.
    """

    name: str
    od_mm: float
    id_mm: float
    thickness_mm: float
    cone_height_mm: float
    modulus_mpa: float
    limits: SizeTolerances
    standard: str = ""
    material: str = ""
    currency: str = ""
    note: str = ""
    offers: tuple[Offer, ...] = ONE_BY_ONE

    @property
    def steepness(self) -> float:
        """Cone height over thickness."""
        return self.cone_height_mm / self.thickness_mm

    @property
    def shape(self) -> tuple[float, ...]:
        """Nominal lengths in mm: the same disc may be sold to several limits."""
        return self.od_mm, self.id_mm, self.thickness_mm, self.cone_height_mm

    @property
    def step(self) -> int:
        """Discs by which quantities of it can differ."""
        return gcd(*(offer.pack for offer in self.offers))

    @property
    def priced(self) -> bool:
        """Whether every offer has a price."""
        return all(offer.price is not None for offer in self.offers)

    @property
    def each(self) -> float:
        """Least price of a disc; 1 where there are no prices."""
        return min((offer.price or 0.0) / offer.pack for offer in self.offers) if self.priced else 1


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
    alone = packets(nominal(sizes), np.arange(len(sizes))[:, None], LoadModel(en16984))
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


def in_time(sizes: tuple[Size, ...], days: int) -> tuple[tuple[Size, ...], list[str]]:
    """Return the sizes with the offers that come within so many days, and what to know of it.

    Raises
    ------
    CannotBuildError
        when none does.
    """
    found, unsaid = [], 0
    for size in sizes:
        offers = tuple(o for o in size.offers if o.lead_days is None or o.lead_days <= days)
        unsaid += sum(o.lead_days is None for o in offers)
        if offers:
            found.append(replace(size, offers=offers))
    if sizes and not found:
        soonest = min(o.lead_days or 0.0 for size in sizes for o in size.offers)
        raise CannotBuildError(
            Problem(
                f"Nothing in the catalog that fits comes within {days} days; the soonest takes "
                f"{soonest:.0f}.",
                "--need-by",
                "Name a later day, or a catalog of suppliers who are quicker.",
            )
        )
    note = f"{unsaid} offers say no lead_days: ask whether they come within {days} days."
    return tuple(found), [note] if unsaid else []
