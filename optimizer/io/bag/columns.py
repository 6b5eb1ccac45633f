"""The header of a bag: which column holds what, and in which unit."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.errors import Problem, cut
from optimizer.model.job import DiscDefaults, Units
from optimizer.units import TO_INSIDE

LENGTHS = ("od", "id", "thickness", "cone_height", "height", "flat")
WORDS = ("disc", "edge", "lot", "note")

_KNOWN = (*WORDS, *(f"{length}_{unit}" for length in LENGTHS for unit in ("mm", "in")))


@dataclass(frozen=True)
class Column:
    """One known column: its place in the row, its heading, and factor to mm."""

    index: int
    heading: str
    factor: float = 1.0

    @property
    def unit(self) -> Units:
        """Return "mm" or "in"."""
        return "mm" if self.factor == 1.0 else "in"

    def shown(self, value_mm: float) -> str:
        """Return a length as it stands in the column."""
        return f"{value_mm / self.factor:.5g}"


@dataclass(frozen=True)
class Header:
    """The columns found, by field name; what is wrong; what was passed over."""

    columns: Mapping[str, Column]
    problems: tuple[Problem, ...]
    warnings: tuple[str, ...]


def normal_heading(heading: str) -> str:
    """Return "thickness_mm" for "Thickness (mm)", "THICKNESS mm", "thickness-mm"."""
    return re.sub(r"[\s()\[\]_/.-]+", "_", heading.lower()).strip("_")


def read_header(place: str, cells: tuple[str, ...], defaults: DiscDefaults) -> Header:
    """Find the columns of a bag; `place` is file and line for messages."""
    columns: dict[str, Column] = {}
    problems: list[Problem] = []
    warnings: list[str] = []
    for index, cell in enumerate(cells):
        name = normal_heading(cell)
        if name not in _KNOWN:
            if advice := _advice(name):
                problems.append(Problem(f"{cut(cell)!r} is not a column of a bag.", place, advice))
            elif cell:
                warnings.append(f"{place}: the column {cut(cell)!r} is not used.")
            continue
        field, _, suffix = name.rpartition("_") if name not in WORDS else (name, "", "mm")
        if field in columns:
            both = f"{columns[field].heading!r} and {cell!r}"
            problems.append(
                Problem(
                    f"Expected one column for {field}, got {both}.", place, "Delete one of the two."
                )
            )
            continue
        columns[field] = Column(index, cell, TO_INSIDE[suffix])
    problems += _missing(place, columns, cells, defaults)
    return Header(columns, tuple(problems), tuple(warnings))


def _advice(name: str) -> str:
    """Return what an unknown column was most likely meant to be, or nothing."""
    if name in LENGTHS:
        return f"Write the unit: {name}_mm or {name}_in."
    near = difflib.get_close_matches(name, _KNOWN, 1, 0.8)
    return f"Did you mean {near[0]}? Else give it a name less alike." if near else ""


def _missing(
    place: str, columns: Mapping[str, Column], cells: tuple[str, ...], defaults: DiscDefaults
) -> list[Problem]:
    lacking = [name for name in ("disc", "thickness", "edge") if name not in columns]
    if defaults.od_mm is None and "od" not in columns:
        lacking.append("od")
    if defaults.id_mm is None and "id" not in columns:
        lacking.append("id")
    problems = [
        Problem(
            f"Expected a column {_spelled(name)}, got {_listed(cells)}.",
            place,
            f"Add the column, or set [disc] {name}_mm or {name}_in in the job."
            if name in ("od", "id")
            else "Add the column.",
        )
        for name in lacking
    ]
    heights = [name for name in ("cone_height", "height") if name in columns]
    if len(heights) != 1:
        problems.append(
            Problem(
                "Expected either cone_height (without the thickness) or height (overall), each "
                f"with _mm or _in, got {'both' if heights else _listed(cells)}.",
                place,
                "Delete one of the two columns." if heights else "Add the column you measured.",
            )
        )
    return problems


def _spelled(name: str) -> str:
    return f"{name}_mm or {name}_in" if name in LENGTHS else name


def _listed(cells: tuple[str, ...]) -> str:
    shown = ", ".join(cell for cell in cells if cell)
    return shown if len(shown) <= 80 else f"{shown[:77]}..."
