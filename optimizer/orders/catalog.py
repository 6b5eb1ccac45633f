"""A catalog: the sizes that can be bought, and which of them fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.errors import CannotBuildError
from optimizer.mechanics.disc import Array
from optimizer.mechanics.law import en16984
from optimizer.mechanics.like_stacks import nominal
from optimizer.mechanics.packet import LoadModel, load, packets
from optimizer.model.catalog import Size
from optimizer.orders.limits import guide_clearance_mm

#: deflection at which standards and makers print a load, as a share of the cone height
PRINTED_AT = 0.75


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
            f"Nothing in the catalog that fits comes within {days} days; the soonest takes "
            f"{soonest:.0f}.",
            "--need-by",
            "Name a later day, or a catalog of suppliers who are quicker.",
        )
    note = f"{unsaid} offers say no lead_days: ask whether they come within {days} days."
    return tuple(found), [note] if unsaid else []
