"""A catalog as a list to read: sizes, proportions, load and price."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text
from optimizer.orders.catalog import Size, printed_load_n
from optimizer.units import TO_INSIDE

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


def listing_text(listed: Listing) -> str:
    """Write a listing as a table of at most 80 columns."""
    u = listed.units
    digits = 2 if u == "mm" else 4
    wide = max(len("size"), *(len(s.size) for s in listed.sizes))
    head = f"{'size':<{wide}} {'od':>7} {'id':>7} {'t':>6} {'h':>6} {'h/t':>5} {'at 0.75 h':>10}"
    lines = [f"{listed.catalog}: {len(listed.sizes)} sizes, lengths in {u}", "", head + "  price"]
    for s in listed.sizes:
        lengths = (s.od_mm, s.id_mm, s.thickness_mm, s.cone_height_mm)
        od, inside, t, h = (f"{mm / TO_INSIDE[u]:.{digits}f}" for mm in lengths)
        price = "" if s.price is None else f"{s.price:.2f} {s.currency} for {s.pack}"
        price += f", from {s.from_packs} packs" if s.from_packs > 1 else ""
        lines.append(
            f"{s.size:<{wide}} {od:>7} {inside:>7} {t:>6} {h:>6} {s.steepness:>5.2f} "
            f"{text.load(s.load_n, u, 0):>10}  {price}".rstrip()
        )
    steep = sum(s.steepness >= 2**0.5 for s in listed.sizes)
    if steep:
        lines += ["", f"{steep} with h/t of sqrt 2 or more snap through: never in series."]
    return "\n".join(lines) + "\n"
