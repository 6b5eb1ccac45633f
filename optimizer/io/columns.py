"""The header of a table: which column holds what, and in which unit; one form for all tables."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from optimizer.errors import Place, Problem, cut
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.table import TableRow
from optimizer.model.job import Units
from optimizer.units import TO_INSIDE

LENGTH, FORCE = ("mm", "in"), ("n", "lbf")


@dataclass(frozen=True)
class Field:
    """What a column may hold: words, or where it has `units` a quantity with its unit in the name.

    A name that has its only unit in it has a `factor` to what is used inside; `remedy` is said
    where a column that is needed lacks, `also` are other names for it, and `guessed` names that a
    table of somebody else may have for it: taken only where a person agrees (`io/bag/guess.py`).
    """

    name: str
    units: tuple[str, ...] = ()
    needed: bool = False
    also: tuple[str, ...] = ()
    guessed: tuple[str, ...] = ()
    factor: float = 1.0
    remedy: str = "Add the column, or give yours that name."

    @property
    def spelled(self) -> str:
        """The names that a column of it may have."""
        return " or ".join(self.headings)

    @property
    def headings(self) -> tuple[str, ...]:
        """The names that a column of it may have, each by itself."""
        return tuple(f"{self.name}_{unit}" for unit in self.units) or (self.name,)


@dataclass(frozen=True)
class Column:
    """One known column: its place in the row, its heading, and factor to mm or N."""

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

    def number(self, row: TableRow, place: str | Place) -> float | Problem:
        """Return the number of a row in units used inside, or say why it is none."""
        cell = row.cells[self.index]
        try:
            return parse_number(cell) * self.factor
        except NotANumber as error:
            got = f"got {cell!r}" if cell else "found none"
            what = f"Expected a number for {self.heading}"
            return Problem(f"{what}, {got}.", place, str(error), what)


@dataclass(frozen=True)
class Header:
    """The columns found, by field name; what is wrong; what was passed over."""

    columns: Mapping[str, Column]
    problems: tuple[Problem, ...]
    warnings: tuple[str, ...]


def normal_heading(heading: str) -> str:
    """Return "thickness_mm" for "Thickness (mm)", "THICKNESS mm", "thickness-mm"."""
    return re.sub(r"[\s()\[\]_/.-]+", "_", heading.lower()).strip("_")


@dataclass(frozen=True)
class Schema:
    """The columns of a kind of table; `one_height` where it has a height, overall or of the cone.

    `what` names the table in messages, as "a bag".
    """

    what: str
    fields: tuple[Field, ...]
    one_height: bool = False

    def read(
        self, place: str | Place, cells: tuple[str, ...], given: Collection[str] = ()
    ) -> Header:
        """Find the columns; `place` is file and line for messages, `given` need no column."""
        known = {
            f"{name}_{unit}" if unit else name: (field.name, field.factor * TO_INSIDE.get(unit, 1))
            for field in self.fields
            for name in (field.name, *field.also)
            for unit in field.units or ("",)
        }
        spelled = {field.name: field.spelled for field in self.fields}
        columns: dict[str, Column] = {}
        problems: list[Problem] = []
        warnings: list[str] = []
        for index, cell in enumerate(cells):
            name = normal_heading(cell)
            if name in known:
                field, factor = known[name]
                if field in columns:
                    both = f"{columns[field].heading!r} and {cell!r}"
                    said = f"Expected one column for {field}, got {both}."
                    problems.append(Problem(said, place, "Delete one of the two."))
                else:
                    columns[field] = Column(index, cell, factor)
            elif name in spelled:
                said = f"{cut(cell)!r} has no unit."
                problems.append(Problem(said, place, f"Write the unit: {spelled[name]}."))
            elif near := difflib.get_close_matches(name, known, 1, 0.8):
                said = f"{cut(cell)!r} is not a column of {self.what}."
                remedy = f"Did you mean {near[0]}? Else give it a name less alike."
                problems.append(Problem(said, place, remedy))
            elif cell:
                warnings.append(f"{place}: the column {cut(cell)!r} is not used.")
        shown = ", ".join(cell for cell in cells if cell)
        listed = shown if len(shown) <= 80 else f"{shown[:77]}..."
        problems += [
            Problem(f"Expected a column {field.spelled}, got {listed}.", place, field.remedy)
            for field in self.fields
            if field.needed and field.name not in (*columns, *given)
        ]
        heights = columns.keys() & {"cone_height", "height"}
        if self.one_height and len(heights) != 1 and (heights or "cone_height" not in given):
            said = (
                "Expected either cone_height (without the thickness) or height (overall), each "
                f"with _mm or _in, got {'both' if heights else listed}."
            )
            remedy = "Delete one of the two columns." if heights else "Add the column you measured."
            problems.append(Problem(said, place, remedy))
        return Header(columns, tuple(problems), tuple(warnings))
