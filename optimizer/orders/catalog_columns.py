"""The header of a catalog: which column holds what, and in which unit."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.errors import Problem, cut
from optimizer.io.bag.columns import Column, normal_heading
from optimizer.units import TO_INSIDE

WORDS = ("size", "series", "standard", "material", "currency", "note", "provenance")
LENGTHS = ("od", "id", "thickness", "cone_height", "height")
#: deviations from nominal; where a catalog gives none its standard's hold
DEVIATIONS = tuple(
    f"{what}_{end}" for what in ("od", "id", "thickness", "height") for end in ("lower", "upper")
)
#: columns without a choice of unit, and the factor to what is used inside
NUMBERS = {
    "load_lower_percent": 0.01,
    "load_upper_percent": 0.01,
    "modulus_mpa": 1.0,
    "pack": 1.0,
    "price": 1.0,
    "lead_days": 1.0,
    "load_at_0p75_n": 1.0,
}
NEEDED = ("size", "od", "id", "thickness")

_MEASURED = (*LENGTHS, *DEVIATIONS)
_KNOWN = (*WORDS, *NUMBERS, *(f"{field}_{unit}" for field in _MEASURED for unit in ("mm", "in")))


@dataclass(frozen=True)
class CatalogHeader:
    """The columns found, by field; what is wrong; what was passed over."""

    columns: Mapping[str, Column]
    problems: tuple[Problem, ...]
    warnings: tuple[str, ...]


def read_catalog_header(place: str, cells: tuple[str, ...]) -> CatalogHeader:
    """Find the columns of a catalog; `place` is file and line for messages."""
    columns: dict[str, Column] = {}
    problems: list[Problem] = []
    warnings: list[str] = []
    for index, cell in enumerate(cells):
        name = normal_heading(cell)
        if name in WORDS:
            field, factor = name, 1.0
        elif name in NUMBERS:
            field, factor = name, NUMBERS[name]
        elif name in _KNOWN:
            field, _, unit = name.rpartition("_")
            factor = TO_INSIDE[unit]
        else:
            near = difflib.get_close_matches(name, _KNOWN, 1, 0.8)
            if name in _MEASURED:
                advice = f"Write the unit: {name}_mm or {name}_in."
                problems.append(
                    Problem(f"{cut(cell)!r} is not a column of a catalog.", place, advice)
                )
            elif near:
                advice = f"Did you mean {near[0]}? Else give it a name less alike."
                problems.append(
                    Problem(f"{cut(cell)!r} is not a column of a catalog.", place, advice)
                )
            elif cell:
                warnings.append(f"{place}: the column {cut(cell)!r} is not used.")
            continue
        if field in columns:
            both = f"{columns[field].heading!r} and {cell!r}"
            what = f"Expected one column for {field}, got {both}."
            problems.append(Problem(what, place, "Delete one of the two."))
        columns[field] = Column(index, cell, factor)
    problems += [
        Problem(f"Expected a column {_spelled(field)}, found none.", place, "Add the column.")
        for field in NEEDED
        if field not in columns
    ]
    if len(columns.keys() & {"cone_height", "height"}) != 1:
        what = "Expected either cone_height (without the thickness) or height (overall)."
        problems.append(Problem(what, place, "Keep one of the two, with _mm or _in."))
    return CatalogHeader(columns, tuple(problems), tuple(warnings))


def _spelled(field: str) -> str:
    return field if field in WORDS else f"{field}_mm or {field}_in"
