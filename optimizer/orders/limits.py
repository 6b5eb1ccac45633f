"""What a maker may deliver: limits of every measure of a disc, from the tables that are shipped."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path

from optimizer.io.numbers import parse_number
from optimizer.io.table import read_table
from optimizer.model.catalog import Band


def shipped(name: str) -> Path:
    """Return the path of a shipped catalog file.

    An installed package holds them beside its modules, a checkout at its top level.
    """
    package = files("optimizer")
    inside = package / "catalogs" / name
    with as_file(inside if inside.is_file() else package / ".." / "catalogs" / name) as path:
        return path.resolve()


#: the thickness whose rows begin, instead of end, on the border (EN 16983 group 2; memory)
GROUP_2_FROM_MM = 1.25

#: file of the tolerances of each standard, by the name that a catalog gives the standard
STANDARDS = {"EN 16983": "en16983_tolerances.csv"}


@dataclass(frozen=True)
class ToleranceRow:
    """One row of a table of tolerances; holds for values from `low` to `high` in mm."""

    quantity: str
    low: float
    high: float
    band: Band


@cache
def tolerance_rows(standard: str) -> tuple[ToleranceRow, ...]:
    """Read the tolerances of a standard; per cent become shares.

    Raises
    ------
    KeyError
        when no tolerances are shipped for the standard.
    """
    table = read_table(shipped(STANDARDS[standard]), "table of tolerances")
    at = {name: i for i, name in enumerate(table.header.cells)}
    rows = []
    for row in table.rows:
        low, high, upper, lower = (
            parse_number(row.cells[at[name]]) for name in ("from_mm", "to_mm", "upper", "lower")
        )
        scale = 0.01 if row.cells[at["unit"]] == "percent" else 1.0
        band = Band(lower * scale, upper * scale)
        rows.append(ToleranceRow(row.cells[at["quantity"]], low, high, band))
    return tuple(rows)


def band(standard: str, quantity: str, value_mm: float) -> Band | None:
    """Return the band of a quantity; None where the standard's table does not reach.

    `value_mm` is what the ranges of the table are of: a diameter, or the thickness for
    thickness, overall height and load.
    """
    begins = quantity not in ("od", "id", "guide_clearance") and value_mm == GROUP_2_FROM_MM
    rows = [row for row in tolerance_rows(standard) if row.quantity == quantity]
    for row in rows:
        starts_here = value_mm == row.low and (begins or row is rows[0])
        ends_here = value_mm == row.high and not begins
        if starts_here or ends_here or row.low < value_mm < row.high:
            return row.band
    return None


def standard_limits(
    standard: str, od_mm: float, id_mm: float, thickness_mm: float
) -> dict[str, Band | None]:
    """Return the bands of a size by the fields of `SizeTolerances`; None where the table ends."""
    return {
        "od": band(standard, "od", od_mm),
        "id": band(standard, "id", id_mm),
        "thickness": band(standard, "thickness", thickness_mm),
        "height": band(standard, "overall_height", thickness_mm),
        "load": band(standard, "load_at_0p75", thickness_mm),
    }


def guide_clearance_mm(diameter_mm: float) -> float:
    """Total play in mm between a guide and discs of this diameter (EN 16983)."""
    standard, what = "EN 16983", "guide_clearance"
    *_, last = (row.band for row in tolerance_rows(standard) if row.quantity == what)
    # beyond the table its last row is the best that is known
    return (band(standard, what, diameter_mm) or last).upper
