"""A catalog as a list to read: sizes, proportions, load and price."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass

from optimizer import text
from optimizer.io.documents import document
from optimizer.model.catalog import Size
from optimizer.orders.catalog import printed_load_n
from optimizer.units import TO_INSIDE
from optimizer.wrapping import Block, TextTable

SCHEMA = "evenstack.catalog/1"


@dataclass(frozen=True)
class SizeRow:
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


def size_rows(sizes: tuple[Size, ...]) -> list[SizeRow]:
    """List the offers of sizes with their load."""
    return [
        SizeRow(
            o.name or s.name, s.od_mm, s.id_mm, s.thickness_mm, s.cone_height_mm, s.steepness,
            float(load), s.standard, s.material, o.supplier.name, o.pack, o.price, s.currency,
            o.from_packs, o.stock_packs, o.lead_days, s.note,
        )
        for s, load in zip(sizes, printed_load_n(sizes), strict=True)
        for o in s.offers
    ]  # fmt: skip


def catalog_json(name: str, units: str, rows: Sequence[SizeRow]) -> str:
    """Write the sizes that fit as one JSON document."""
    sizes = [asdict(row) for row in rows]
    return document({"schema": SCHEMA, "catalog": name, "units": units, "sizes": sizes})


def catalog_blocks(name: str, units: str, rows: Sequence[SizeRow]) -> Iterator[Block]:
    """Yield the table of sizes, and what to know of steep discs."""
    unit = "inches" if units == "in" else units
    sold = sorted({row.currency for row in rows if row.price is not None})
    heads: tuple[str, ...] = ("size", "od", "id", "t", "h", "h/t", "load")
    heads += ("price", "pack", "from") if sold else ()
    title = f"{name}: {len(rows)} sizes, lengths in {unit}, load at 0.75 h"
    if sold:
        title += (
            f"; prices in {' or '.join(sold)} for a pack of so many discs, from so many packs on"
        )
    yield TextTable(heads, [_row(row, units, sold) for row in rows], title)
    steep = sum(row.steepness >= 2**0.5 for row in rows)
    if steep:
        yield f"{steep} with h/t of sqrt 2 or more snap through: never in series."


def _row(size: SizeRow, units: str, sold: Sequence[str]) -> tuple[str, ...]:
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
