"""Read a catalog: a table of sizes in, frozen values and every problem at once out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from optimizer.errors import Place, Problem, raise_if
from optimizer.io.columns import LENGTH, Column, Field, Schema
from optimizer.io.table import TableRow, read_table
from optimizer.model.catalog import Band, Catalog, Offer, Size, SizeTolerances, Supplier
from optimizer.orders.limits import STANDARDS, shipped, standard_limits

WORDS = ("standard", "series", "material", "supplier", "currency", "note", "provenance")
#: whole numbers of packs: the price holds from so many on, and so many there are
COUNTS = ("pack", "from_packs", "stock_packs")
#: what is the same for all rows of a supplier
OF_SUPPLIER = ("delivery_cost", "minimum_order")
#: deviations from nominal; where a catalog gives none its standard's hold
DEVIATIONS = tuple(
    f"{what}_{end}" for what in ("od", "id", "thickness", "height") for end in ("lower", "upper")
)

CATALOG = Schema(
    "a catalog",
    (
        Field("size", needed=True),
        *(Field(name, LENGTH, needed=True) for name in ("od", "id", "thickness")),
        *(Field(name, LENGTH) for name in ("cone_height", "height", *DEVIATIONS)),
        *(Field(f"load_{end}_percent", factor=0.01) for end in ("lower", "upper")),
        *map(Field, ("modulus_mpa", "price", "lead_days", "load_at_0p75_n")),
        *map(Field, (*COUNTS, *OF_SUPPLIER, *WORDS)),
    ),
    one_height=True,
)


MODULUS_MPA = 206_000.0
#: the catalog that is used when none is named
STANDARD_SIZES = "en16983.csv"

_MAY_BE_ZERO = (
    "price", "lead_days", "stock_packs", "load_upper_percent", "load_lower_percent",
    *OF_SUPPLIER, *DEVIATIONS,
)  # fmt: skip


def read_catalog(path: Path | None = None) -> Catalog:
    """Read a catalog of disc sizes; without a path, the sizes of EN 16983.

    Parameters
    ----------
    path
        CSV or XLSX, one row a size; columns as in `CATALOG`.

    Raises
    ------
    InputError
        with every problem of the file: place, value and remedy.
    """
    path = shipped(STANDARD_SIZES) if path is None else path
    table = read_table(path, "catalog")
    header = CATALOG.read(f"{path.name} line {table.header.line}", table.header.cells)
    raise_if(header.problems)  # without its columns a row tells no more than this
    problems: list[Problem] = []
    rows: list[tuple[int, Size]] = []
    for row in table.rows:
        reader = _RowReader(path.name, header.columns, row)
        size = reader.size()
        problems += reader.problems
        if size is not None:
            rows.append((row.line, size))
    problems += _at_odds(path.name, rows)
    currencies = sorted({size.currency for _, size in rows if size.priced})
    if len(currencies) > 1:
        what = f"Expected one currency, got {', '.join(c or 'none' for c in currencies)}."
        problems.append(Problem(what, path.name, "Write all prices in one currency."))
    raise_if(problems)
    return Catalog(path, tuple(_grouped(size for _, size in rows)), header.warnings)


def _at_odds(file: str, rows: list[tuple[int, Size]]) -> Iterator[Problem]:
    """Rows that contradict an earlier one: twice the same offer, another disc or supplier."""
    offers: dict[object, int] = {}
    discs: dict[str, tuple[int, Size]] = {}
    suppliers: dict[str, tuple[int, Supplier]] = {}
    for line, size in rows:
        where, [offer] = f"{file} line {line}, size {size.name}", size.offers
        first, same = discs.setdefault(size.name, (line, size))
        if (size.shape, size.limits) != (same.shape, same.limits):
            what = f"Expected the disc that {size.name!r} is on line {first}, got another one."
            yield Problem(what, where, "Tell different discs apart by name.")
        key = (size.name, offer.supplier.name, offer.pack, offer.from_packs)
        if (once := offers.setdefault(key, line)) != line:
            what = f"Expected each offer once, got {size.name!r} on line {once} too."
            remedy = "Delete one, or tell them apart by pack, from_packs or supplier."
            yield Problem(what, where, remedy)
        first, seller = suppliers.setdefault(offer.supplier.name, (line, offer.supplier))
        if offer.supplier != seller:
            yield Problem(
                f"Expected delivery_cost and minimum_order as on line {first}.",
                where,
                "Give them alike in all rows of a supplier.",
            )


def _grouped(rows: Iterable[Size]) -> Iterator[Size]:
    """Gather the offers of one disc, in the order in which they come."""
    groups: dict[object, list[Size]] = {}
    for size in rows:
        key = (size.shape, size.limits, size.modulus_mpa, size.material)
        groups.setdefault(key, []).append(size)
    for group in groups.values():
        yield replace(group[0], offers=tuple(offer for size in group for offer in size.offers))


class _RowReader:
    """One row being read; `problems` collects what is wrong in it."""

    def __init__(self, file: str, columns: Mapping[str, Column], row: TableRow) -> None:
        self.columns = columns
        self.row = row
        self.problems: list[Problem] = []
        name = self.word("size")
        self.where = Place(file, row.line, f"size {name}" if name else "")

    def word(self, field: str) -> str:
        return self.row.cells[self.columns[field].index] if field in self.columns else ""

    def number(self, field: str, needed: bool = False) -> float | None:
        """Return the cell inside units; None where it is empty or wrong."""
        column = self.columns.get(field)
        cell = "" if column is None else self.row.cells[column.index]
        if column is None or (not cell and not needed):
            return None
        value = column.number(self.row, self.where)
        if isinstance(value, Problem):
            self.problems.append(value)
            return None
        signed = field in DEVIATIONS or (field.startswith("load_") and field.endswith("_percent"))
        if not signed and (value < 0 or (value == 0 and field not in _MAY_BE_ZERO)):
            least = ">= 0" if field in _MAY_BE_ZERO else "> 0"
            self.wrong(f"Expected {column.heading} {least}, got {cell}.", "Correct the cell.")
            return None
        return value

    def wrong(self, what: str, remedy: str) -> None:
        self.problems.append(Problem(what, self.where, remedy))

    def size(self) -> Size | None:
        """Return the size, or None with the reasons in `problems`."""
        if not self.word("size"):
            self.wrong("Expected a name for the size, found none.", "Give every size its own name.")
        overall = "height" in self.columns
        od, inside, t, h = (
            self.number(field, needed=True)
            for field in ("od", "id", "thickness", "height" if overall else "cone_height")
        )
        modulus, price, lead, delivery, minimum = (
            self.number(field) for field in ("modulus_mpa", "price", "lead_days", *OF_SUPPLIER)
        )
        counts = {field: self.number(field) for field in COUNTS}
        for field, count in counts.items():
            if count is not None and count != int(count):
                self.wrong(f"Expected a whole number for {field}, got {count:g}.", "Correct it.")
        if od is None or inside is None or t is None or h is None:
            return None
        h = round(h - t, 9) if overall else h
        if h <= 0:
            self.wrong("Expected an overall height above the thickness.", "Correct one of the two.")
        if inside >= od:
            self.wrong(f"Expected id < od, got {inside:g} and {od:g} mm.", "Correct one of them.")
        limits = self.limits(od, inside, t)
        if self.problems or limits is None:
            return None
        stock = counts["stock_packs"]
        supplier = Supplier(self.word("supplier"), delivery or 0.0, minimum or 0.0)
        offer = Offer(
            self.word("size"), int(counts["pack"] or 1), price, int(counts["from_packs"] or 1),
            None if stock is None else int(stock), lead, supplier,
        )  # fmt: skip
        return Size(
            self.word("size"), od, inside, t, h,
            MODULUS_MPA if modulus is None else modulus, limits,
            self.word("standard"), self.word("material"), self.word("currency"),
            self.word("note"), (offer,),
        )  # fmt: skip

    def limits(self, od_mm: float, id_mm: float, thickness_mm: float) -> SizeTolerances | None:
        """Return the deviations of the row, else those of its standard."""
        standard = self.word("standard")
        bands: dict[str, Band | None] = dict.fromkeys(("od", "id", "load"), Band())
        if standard in STANDARDS:
            bands |= standard_limits(standard, od_mm, id_mm, thickness_mm)
        for what in ("od", "id", "thickness", "height", "load"):
            ending = "_percent" if what == "load" else ""
            lower, upper = (self.number(f"{what}_{end}{ending}") for end in ("lower", "upper"))
            if lower is not None or upper is not None:
                bands[what] = Band(lower or 0.0, upper or 0.0)
            found = bands.get(what)
            if found is None:
                known = ", ".join(STANDARDS)
                self.wrong(
                    f"Expected tolerances of the {what}, found none for standard {standard!r}.",
                    f"Add {what}_lower and {what}_upper with their unit, or name a standard whose "
                    f"table reaches this size ({known}).",
                )
            elif found.lower > found.upper:
                self.wrong(
                    f"Expected {what} lower <= upper, got {found.lower:g} and {found.upper:g}.",
                    "Write deviations from nominal, as -0.05 and 0.03.",
                )
        if any(found is None for found in bands.values()) or len(bands) < 5:
            return None
        return SizeTolerances(**{what: found for what, found in bands.items() if found is not None})
