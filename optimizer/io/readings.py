"""Readings of the bench gauge: a table in, frozen readings out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from optimizer.errors import InputError, Place, Problem, did_you_mean, raise_if
from optimizer.io.columns import FORCE, LENGTH, Column, Field, Schema
from optimizer.io.table import TableRow, read_table
from optimizer.model.readings import Kind, Reading, Readings, Trust
from optimizer.model.stack import Stack

#: rows of one bench session: a long day has a hundred
MOST_READINGS = 800
COLUMNS = Schema(
    "readings",
    (
        Field("set"),
        Field("round", needed=True),
        Field("shoe", also=("stack",)),
        Field("discs"),
        Field("kind", needed=True),
        Field("load", FORCE, needed=True),
        Field("travel", LENGTH),
        Field("shims", LENGTH),
        Field("rebuilt"),
        Field("count"),
        Field("note"),
        Field("likely_from", FORCE),
        Field("likely_to", FORCE),
    ),
)
_YES = ("yes", "y", "true", "1", "x", "rebuilt")
_NO = ("", "no", "n", "false", "0")
#: words of the column count: judged as usual, insisted on, void
_COUNT: dict[str, Trust | None] = {"": "usual", "yes": "usual", "ok": "insisted", "no": None}


def parse_packs(text: str) -> Stack:
    """Return "B01 B02+B03" as packets: + joins nested discs, bottom to top."""
    joined = re.sub(r"\s*\+\s*", "+", text.strip())
    return tuple(tuple(packet.split("+")) for packet in joined.split())


def read_readings(
    path: Path,
    names: tuple[str, ...],
    shoes: int,
    planned: Mapping[int, Stack],
    number: int = 1,
) -> Readings:
    """Read and check a readings file; rows without a load are not read yet and left out.

    So are rows with `no` in the column count, which are void; `ok` there insists on a reading.

    Parameters
    ----------
    path : CSV or XLSX with `round, shoe, discs, kind, load_lbf | load_n`; `stack` is read as
        `shoe`; `discs`, `travel_mm | travel_in`, `rebuilt`, `count` and `shims_mm | shims_in`
        (their total, where it is not that of the plan) may be left out or empty
    names : the discs of the bag
    shoes : number of shoes of the job
    planned : the stack of each shoe where a row names no discs
    number : the set that is read; rows that name another in the column `set` are passed over

    Raises
    ------
    InputError
        with every problem of the file: place, value and remedy.
    """
    table = read_table(path, "table of readings")
    if table.cut:
        raise InputError(
            f"Expected {len(table.header.cells)} cells, got a line that ends before its last.",
            f"{path.name} line {table.rows[-1].line}",
            "It was cut off while it was written: complete it, or delete it.",
        )
    header = COLUMNS.read(f"{path.name} line {table.header.line}", table.header.cells)
    columns, warnings = header.columns, list(header.warnings)
    problems = list(header.problems)
    if not columns.keys() & {"shoe", "discs"}:
        where = f"{path.name} line {table.header.line}"
        problems.append(Problem("Expected a column shoe, found none.", where, "Add the column."))
    raise_if(problems)
    of_set = _of_set(path.name, table.rows, columns.get("set"), number)
    if len(of_set) > MOST_READINGS:
        raise InputError(
            f"Expected at most {MOST_READINGS} readings, got {len(of_set)}.",
            str(path),
            "Look for rows that were pasted twice; give each bench session a file of its own.",
        )
    rows: list[Reading] = []
    unnamed: set[int] = set()
    blank = void = 0
    for row in of_set:
        cells = {name: row.cells[column.index] for name, column in columns.items()}
        if not cells["load"]:
            blank += 1
            continue
        if cells.get("count", "").lower() == "no":
            void += 1
            continue
        found = _reading(Place(path.name, row.line), row, cells, columns, planned)
        if isinstance(found, list):
            problems += found
            continue
        rows.append(found)
        if not cells.get("discs"):
            unnamed.add(found.round)
    problems += _check(path.name, rows, names, shoes)
    if blank and blank + void == len(of_set):
        said = f"Expected a load in at least one row, found none in {blank}."
        remedy = "Write the loads seen on the gauge into the load column."
        problems.append(Problem(said, path.name, remedy))
    raise_if(problems)
    if blank:
        rows_are = "1 row without a load is" if blank == 1 else f"{blank} rows without a load are"
        warnings.append(f"{path.name}: {rows_are} taken as not read yet and left out.")
    if void:
        rows_are = "1 row is" if void == 1 else f"{void} rows are"
        warnings.append(f"{path.name}: {rows_are} void (no under count) and left out.")
    if len(unnamed) > 1:
        listed = ", ".join(str(number) for number in sorted(unnamed))
        warnings.append(
            f"{path.name}: rounds {listed} name no discs, so all are taken as readings of the "
            "stacks in the plan; if discs were changed between them, fill in the discs."
        )
    rows.sort(key=lambda reading: reading.round)
    return Readings(tuple(rows), tuple(warnings))


def _of_set(
    file: str, rows: Sequence[TableRow], column: Column | None, number: int
) -> list[TableRow]:
    """Return the rows of a set, those that name none among them."""
    if column is None:
        return list(rows)
    asked = [row for row in rows if row.cells[column.index] in ("", str(number))]
    if rows and not asked:
        sets = ", ".join(dict.fromkeys(row.cells[column.index] for row in rows[:MOST_READINGS]))
        raise InputError(
            f"Expected readings of set {number}, found those of {sets[:60]}.",
            f"{file}, column {column.heading}",
            "Ask for another set with --set, or correct the column.",
        )
    return asked


def _reading(
    place: Place,
    row: TableRow,
    cells: Mapping[str, str],
    columns: Mapping[str, Column],
    planned: Mapping[int, Stack],
) -> Reading | list[Problem]:
    problems: list[Problem] = []

    def bad(what: str, remedy: str) -> None:
        problems.append(Problem(what, place, remedy))

    def whole(name: str) -> int | None:
        text = cells.get(name, "")
        if re.fullmatch(r"\d{1,6}", text) and int(text) > 0:
            return int(text)
        bad(f"Expected {name} as 1, 2, 3 ..., got {text!r}.", f"Number the {name}s from 1.")
        return None

    def number(name: str) -> float | None:
        value = columns[name].number(row, place)
        if isinstance(value, Problem):
            problems.append(value)
            return None
        if value > 0 or (name == "shims" and value == 0):
            return value
        bad(
            f"Expected {name} > 0, got {cells[name]}.",
            "Zero the gauge and read again, or delete it.",
        )
        return None

    round_number = whole("round")
    discs = parse_packs(cells.get("discs", ""))
    shoe = whole("shoe") if cells.get("shoe") or not discs else None
    kind = cells.get("kind", "").lower()
    if kind not in ("first", "settled"):
        bad(
            f"Expected first or settled for kind, got {cells.get('kind', '')!r}.",
            did_you_mean(kind, ("first", "settled"), "Settled is read after a few full strokes."),
        )
    load = number("load")
    travel = number("travel") if cells.get("travel") else None
    shims = number("shims") if cells.get("shims") else None
    rebuilt = cells.get("rebuilt", "").lower()
    if rebuilt not in (*_YES, *_NO):
        bad(f"Expected yes or no for rebuilt, got {rebuilt!r}.", "Leave it empty for no.")
    word = cells.get("count", "").lower()
    if word not in _COUNT:
        bad(
            f"Expected ok, no or nothing for count, got {word!r}.",
            "ok insists on a reading that is far off, no makes it void.",
        )
    if not discs and shoe is not None:
        discs = planned.get(shoe, ())
        if not discs:
            bad(f"Expected discs for shoe {shoe}, found none.", "The plan has no such shoe.")
    if shoe is None and discs and travel is None and not problems:
        bad(
            "Expected the travel of discs gauged without a shoe, found none.",
            "Name the shoe, or add a column travel_mm or travel_in and fill it in.",
        )
    if problems or round_number is None or load is None:
        return problems
    settled: Kind = "settled" if kind == "settled" else "first"
    trust = _COUNT[word] or "usual"
    return Reading(
        round_number, shoe, discs, settled, load, travel, rebuilt in _YES, row.line, shims, trust
    )


def _check(file: str, rows: list[Reading], names: tuple[str, ...], shoes: int) -> Iterator[Problem]:
    """Say what is wrong of shoes and discs, row by row."""
    known = set(names)
    owner: dict[tuple[int, str], Reading] = {}
    for reading in rows:
        place = Place(file, reading.line)
        flat = [disc for packet in reading.packs for disc in packet]
        if reading.shoe is not None and reading.shoe > shoes:
            yield Problem(
                f"Expected a shoe from 1 to {shoes}, got {reading.shoe}.",
                place,
                "Correct it, or the number of shoes in the job.",
            )
        for disc in dict.fromkeys(flat):
            if disc not in known:
                remedy = did_you_mean(disc, names, "Correct the name.")
                yield Problem(f"Expected discs of the bag, got {disc!r}.", place, remedy)
            if flat.count(disc) > 1:
                yield Problem(f"Disc {disc} is in the stack twice.", place, "Correct the list.")
            other = owner.setdefault((reading.round, disc), reading)
            if reading.shoe is not None and other.shoe not in (None, reading.shoe):
                yield Problem(
                    f"Disc {disc} cannot be under shoe {reading.shoe} and, on line "
                    f"{other.line}, under shoe {other.shoe} in one round.",
                    place,
                    "Correct the list, or number it as another round.",
                )
        if any(len(packet) > 3 for packet in reading.packs):
            said = "Expected at most three discs nested."
            yield Problem(said, place, "Series discs need a space.")
