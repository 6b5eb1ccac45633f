"""A catalog as a list to read: sizes, proportions, load and price."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer import text
from optimizer.model.catalog import Size
from optimizer.orders.catalog import printed_load_n
from optimizer.units import TO_INSIDE
from optimizer.wrapping import Block, Table

SCHEMA = "evenstack.catalog/1"


@dataclass(frozen=True)
class Listed:
    """One offer of a size; lengths in mm, `load_n` of a nominal disc at 0.75 of its cone height."""

    size: str
    od_mm: float
    id_mm: float
    thickness_mm: float
    cone_height_mm: float
    steepness: float
    load_n: float
    standard: str
    material: str
    supplier: str
    pack: int
    price: float | None
    currency: str
    from_packs: int
    stock_packs: int | None
    lead_days: float | None
    note: str


@dataclass(frozen=True)
class Listing:
    """The sizes that fit."""

    schema: str
    catalog: str
    units: str
    sizes: tuple[Listed, ...]


def listing(name: str, units: str, sizes: tuple[Size, ...]) -> Listing:
    """List sizes with their load."""
    return Listing(
        SCHEMA,
        name,
        units,
        tuple(
            Listed(
                o.name or s.name, s.od_mm, s.id_mm, s.thickness_mm, s.cone_height_mm, s.steepness,
                float(load), s.standard, s.material, o.supplier.name, o.pack, o.price,
                s.currency, o.from_packs, o.stock_packs, o.lead_days, s.note,
            )
            for s, load in zip(sizes, printed_load_n(sizes), strict=True)
            for o in s.offers
        ),
    )  # fmt: skip


def listing_blocks(listed: Listing) -> Iterator[Block]:
    """Yield the table of a listing, and what to know of its steep discs."""
    unit = "inches" if listed.units == "in" else listed.units
    sold = sorted({size.currency for size in listed.sizes if size.price is not None})
    heads = (
        "size",
        "od",
        "id",
        "t",
        "h",
        "h/t",
        "load",
        *(("price", "pack", "from") if sold else ()),
    )
    title = f"{listed.catalog}: {len(listed.sizes)} sizes, lengths in {unit}, load at 0.75 h"
    if sold:
        title += (
            f"; prices in {' or '.join(sold)} for a pack of so many discs, from so many packs on"
        )
    yield Table(heads, [_row(size, listed.units, sold) for size in listed.sizes], title)
    steep = sum(size.steepness >= 2**0.5 for size in listed.sizes)
    if steep:
        yield f"{steep} with h/t of sqrt 2 or more snap through: never in series."


def _row(size: Listed, units: str, sold: Sequence[str]) -> tuple[str, ...]:
    across, along = (2, 2) if units == "mm" else (3, 4)
    price = "" if size.price is None else f"{size.price:.2f}"
    if price and len(sold) > 1:
        price += f" {size.currency}"
    offer = (price, str(size.pack), str(size.from_packs) if size.from_packs > 1 else "")
    return (
        size.size,
        *(f"{mm / TO_INSIDE[units]:.{across}f}" for mm in (size.od_mm, size.id_mm)),
        *(f"{mm / TO_INSIDE[units]:.{along}f}" for mm in (size.thickness_mm, size.cone_height_mm)),
        f"{size.steepness:.2f}",
        text.load(size.load_n, units, 0),
        *(offer if sold else ()),
    )
