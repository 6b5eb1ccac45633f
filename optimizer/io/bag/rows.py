"""One row of a bag as one measurement of one disc, in mm."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.errors import Place, Problem, did_you_mean
from optimizer.io.bag.columns import LENGTHS, PRESSED, UNMEASURED
from optimizer.io.columns import Column
from optimizer.io.table import TableRow

EDGES = ("sharp", "dressed")
#: no disc is larger, whatever unit it was typed in
LONGEST_MM = 10_000.0


@dataclass(frozen=True)
class Measurement:
    """One row: the lengths in mm, and load in N, that were filled in, and the words."""

    line: int
    name: str
    lengths: Mapping[str, float]
    words: Mapping[str, str]

    @property
    def height(self) -> float | None:
        """Return the height that was measured, cone or overall."""
        return self.lengths.get("cone_height", self.lengths.get("height"))


def place(file: str, line: int, name: str = "") -> Place:
    """Return the place of a row of the bag, with its disc where it has a name."""
    return Place(file, line, f"disc {name}" if name else "")


def read_row(
    file: str, columns: Mapping[str, Column], row: TableRow, nominal: bool = False
) -> Measurement | list[Problem]:
    """Return the row as a measurement, or everything that is wrong in it.

    Thickness and height may be empty where the row has a load, or the job `nominal` lengths.
    """
    words = {f: row.cells[c.index] for f, c in columns.items() if f not in (*LENGTHS, *PRESSED)}
    name = words.get("disc", "")
    where = place(file, row.line, name)
    found = _name(name) if "disc" in columns else []
    found += _edge(words) if "edge" in columns else []
    problems = [Problem(what, where, remedy, remedy) for what, remedy in found]
    lengths: dict[str, float] = {}
    filled = {f for f in PRESSED if f in columns and row.cells[columns[f].index]}
    may_lack = {"od", "id", "flat", "edge_radius", *PRESSED}
    may_lack |= set(UNMEASURED) if nominal or filled else set()
    if len(filled) == 1:
        lacks = next(f for f in PRESSED if f not in filled)
        problems.append(
            Problem(
                f"Expected {lacks} beside {', '.join(filled)}, found none.",
                where,
                "A load tells something only with how far the disc was pressed: fill in load_n "
                "(or load_lbf) and at_mm (or at_in), or neither.",
            )
        )
    for field in (field for field in (*LENGTHS, *PRESSED) if field in columns):
        column = columns[field]
        cell = row.cells[column.index]
        if not cell and field in may_lack:
            continue
        value = column.number(row, where)
        if isinstance(value, Problem):
            problems.append(value)
        elif value > LONGEST_MM and field != "load":
            problems.append(
                Problem(
                    f"Expected {field.replace('_', ' ')} below {column.shown(LONGEST_MM)} "
                    f"{column.unit}, got {cell}.",
                    where,
                    "Look for a decimal point.",
                    f"too long {field}",
                )
            )
        elif value > 0 or (value == 0 and field in ("flat", "edge_radius")):
            lengths[field] = value
        else:
            problems.append(_not_positive(field, column, cell, where))
    words["edge"] = words.get("edge", "").lower()
    return problems or Measurement(row.line, name, lengths, words)


def _not_positive(field: str, column: Column, cell: str, where: Place) -> Problem:
    limit = ">= 0" if field in ("flat", "edge_radius") else "> 0"
    what = f"Expected {field.replace('_', ' ')} {limit} {column.unit}"
    remedy = "Measure it again."
    if field == "cone_height":
        remedy = "A disc pressed flat or turned over is no spring: measure again or delete the row."
    return Problem(f"{what}, got {cell}.", where, remedy, what)


def _name(name: str) -> list[tuple[str, str]]:
    if not name:
        return [("Expected a name for the disc, found none.", "Give every disc its own name.")]
    if not name.isprintable():
        return [
            (
                "Expected a disc name of plain characters, got one that cannot be shown.",
                "Type the name again.",
            )
        ]
    if re.search(r"[\s+]", name):
        return [
            (
                f"Expected a disc name without spaces and +, got {name!r}.",
                "Stacks are written as names with spaces and + between: use - or _ in the name.",
            )
        ]
    return []


def _edge(words: Mapping[str, str]) -> list[tuple[str, str]]:
    word = words["edge"]
    if word.lower() in EDGES:
        return []
    if not word:
        return [("Expected sharp or dressed for edge, found none.", "Fill the cell in.")]
    remedy = did_you_mean(word.lower(), EDGES, "Dressed is an edge flattened on purpose.")
    return [(f"Expected sharp or dressed for edge, got {word!r}.", remedy)]
