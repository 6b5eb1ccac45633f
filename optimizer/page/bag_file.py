"""The bag file as one types it: a row added, a row taken out, each write in one step.

What a person wrote stays as it is: columns, their order, separator, remarks and line ends. A row
is judged by reading the bag with it, so nothing is judged here that a command would not say.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

from optimizer import text
from optimizer.errors import EvenstackError, InputError, NoRowsError, Place, Problem
from optimizer.face.sources import read_job
from optimizer.io.bag.columns import unit_of
from optimizer.io.bag.reader import bag_header, bag_of
from optimizer.io.bag.rows import place
from optimizer.io.bag.slips import SPOKEN, UNIT
from optimizer.io.columns import Column
from optimizer.io.files import write_atomic
from optimizer.io.table import Table, TableRow, possible_rows, read_table, separator_of, written_row
from optimizer.io.text import read_text
from optimizer.model.job import Job, Units
from optimizer.page.bag_book import NUMBERS, add_to_book, is_book, new_book, take_from_book
from optimizer.page.folder import ClutchFolder
from optimizer.units import TO_INSIDE


@dataclass(frozen=True)
class BagFile:
    """A bag file: its header, its rows, and the text between which a row is put."""

    path: Path
    table: Table
    columns: Mapping[str, Column]
    separator: str
    text: str
    units: Units

    @property
    def height(self) -> str:
        """Which height is measured: "cone_height" or "height", the overall one."""
        return "cone_height" if "cone_height" in self.columns else "height"

    @property
    def end(self) -> int:
        """Line behind the last one, where the next row goes."""
        if self.text:
            return len(self.text.splitlines()) + 1
        return max(row.line for row in (self.table.header, *self.table.rows)) + 1

    @property
    def unit(self) -> Units:
        """Unit in which the page asks for all lengths: that of the thickness, if it has one."""
        return unit_of(self.columns, self.units)

    @property
    def load_unit(self) -> str:
        """Unit in which the page asks for the load of a disc alone."""
        return text.load_unit(self.columns["load"].unit if "load" in self.columns else self.unit)

    @property
    def others(self) -> dict[int, str]:
        """Columns that are a person's own, by their place: nothing here goes by them."""
        taken = {column.index for column in self.columns.values()}
        cells = enumerate(self.table.header.cells)
        return {at: cell for at, cell in cells if cell and at not in taken}

    def cell(self, row: TableRow, field: str) -> str:
        """Return what a row holds of a field, nothing where the file has no column for it."""
        return row.cells[self.columns[field].index] if field in self.columns else ""

    def widened(self, fields: Iterable[str]) -> BagFile:
        """Return the file with columns at its end for some fields that it has none for."""
        columns, header = dict(self.columns), self.table.header
        for name in fields:
            if name in columns:
                continue
            unit = self.load_unit.lower() if name == "load" else self.unit
            heading, factor = f"{name}_{unit}", TO_INSIDE[unit]
            columns[name] = Column(len(header.cells), heading, factor)
            header = replace(header, cells=(*header.cells, heading))
        if header == self.table.header:
            return self
        lines, at = self.text.splitlines(keepends=True), header.line - 1
        if lines:
            lines[at] = self.line(header.cells)
        wider = ("",) * (len(header.cells) - len(self.table.header.cells))
        rows = tuple(replace(row, cells=row.cells + wider) for row in self.table.rows)
        table = replace(self.table, header=header, rows=rows)
        return replace(self, table=table, columns=columns, text="".join(lines))

    def cells(
        self, values: Mapping[str, str], own: Mapping[int, str] | None = None
    ) -> tuple[str, ...]:
        """Return a row of the file from what was typed, by field; `own` are other columns' cells.

        Raises
        ------
        InputError
            where something was typed for which the file has no column.
        """
        cells = [(own or {}).get(at, "") for at in range(len(self.table.header.cells))]
        for name, value in values.items():
            column = self.columns.get(name)
            if column is not None:
                decimal = name in NUMBERS and self.separator == ","
                cells[column.index] = value.replace(",", ".") if decimal else value
            elif value:
                raise InputError(
                    f"Expected a column for {name.replace('_', ' ')}, found none.",
                    self.path.name,
                    "Add the column to the file, or leave the field empty.",
                )
        return tuple(cells)

    def line(self, cells: tuple[str, ...]) -> str:
        """Write a row as a line of the file, where that is text."""
        end = "\r\n" if "\r\n" in self.text else "\n"
        return written_row(cells, self.separator, end)


def read_bag_file(path: Path, job: Job) -> BagFile:
    """Read a bag file of any number of rows, none too.

    Raises
    ------
    InputError
        when it is no such file.
    """
    text = "" if is_book(path) else read_text(path, "bag")
    try:
        table = read_table(path, "bag")
    except NoRowsError:
        table = Table(_header_row(path, text), ())
    columns = columns_of(path.name, table, job)
    lines = text.splitlines()
    separator = separator_of(lines[table.header.line - 1]) if lines else ""
    return BagFile(path, table, columns, separator, text, job.units)


def bag_of_clutch(clutch: ClutchFolder) -> tuple[Job, BagFile]:
    """Read the job of a clutch and its bag file; raises as `read_job` and `read_bag_file`."""
    job = read_job(clutch.job)
    return job, read_bag_file(job.bag_file, job)


def columns_of(file: str, table: Table, job: Job) -> Mapping[str, Column]:
    """Find the columns of a bag by field.

    Raises
    ------
    InputError
        with what is wrong in the header.
    """
    found = bag_header(table, file, job)
    if found.problems:
        raise InputError(*found.problems)
    return found.columns


def _header_row(path: Path, text: str) -> TableRow:
    """Return the header of a file that holds nothing else but remarks."""
    if is_book(path):
        return next(iter(possible_rows(path, "bag")[0]))
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip(" ,;\t") and not line.startswith("#") and not line.lower().startswith("sep="):
            cells = next(csv.reader([line], delimiter=separator_of(line)))
            return TableRow(number, tuple(cell.strip() for cell in cells))
    raise NoRowsError("Expected a bag with a header, got no line.")


@dataclass(frozen=True)
class Findings:
    """What is said of a row before it is put away: what forbids it, and what looks odd."""

    problems: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def judge(bag: BagFile, job: Job, cells: tuple[str, ...], name: str) -> Findings:
    """Read the bag with one more row and say what that row brings in."""
    line = bag.end
    after = Table(bag.table.header, (*bag.table.rows, TableRow(line, cells)))
    known, _ = _said(bag.table, bag.path, job)
    problems, warnings = _said(after, bag.path, job)
    new = [problem for problem in problems if problem not in known]
    here = f"{place(bag.path.name, line, name)}: "
    return Findings(
        tuple(dict.fromkeys(_beside(problem, bag, line) for problem in new)),
        tuple(said.removeprefix(here) for said in warnings if said.startswith(here)),
    )


def _beside(problem: Problem, bag: BagFile, line: int) -> str:
    """Say a problem beside the fields: of the row in the hand without its place."""
    if problem.kind == UNIT:
        other = SPOKEN["mm" if bag.unit == "in" else "in"]
        return f"This looks typed in {other}: the bag is in {SPOKEN[bag.unit]}."
    mine = isinstance(problem.where, Place) and problem.where.line == line
    return str(replace(problem, where="") if mine else problem)


def _said(table: Table, path: Path, job: Job) -> tuple[tuple[Problem, ...], tuple[str, ...]]:
    """Problems and warnings of a bag with these rows."""
    if not table.rows:
        return (), ()
    try:
        return (), bag_of(table, path, job).warnings
    except EvenstackError as error:
        return error.problems, ()


def add_rows(bag: BagFile, rows: Sequence[tuple[str, ...]]) -> None:
    """Put rows at the end of the file."""
    if is_book(bag.path):
        add_to_book(bag.path, bag.table.header, bag.end, bag.columns, rows)
        return
    end = "" if bag.text.endswith(("\n", "\r")) or not bag.text else "\n"
    write_atomic(bag.path, f"{bag.text}{end}{''.join(map(bag.line, rows))}")


def take_row(bag: BagFile, line: int, cells: tuple[str, ...]) -> None:
    """Take the row on a line out of the file.

    Raises
    ------
    InputError
        when another row stands there by now, or it fills more than one line.
    """
    lines = bag.text.splitlines(keepends=True)
    row = next((row for row in bag.table.rows if row.line == line), None)
    body = lines[line - 1] if 0 < line <= len(lines) else ""
    if row is None or row.cells != cells or body.count('"') % 2:
        raise InputError("The bag has changed meanwhile: look at the list again.")
    if is_book(bag.path):
        take_from_book(bag.path, line)
    else:
        write_atomic(bag.path, "".join(lines[: line - 1] + lines[line:]))


def write_bag(bag: BagFile, table: Table) -> None:
    """Put a table in the place of all that the file holds."""
    if is_book(bag.path):
        new_book(bag.path, table.header.cells, [row.cells for row in table.rows])
        return
    rows = (row.cells for row in (table.header, *table.rows))
    write_atomic(bag.path, "".join(map(written_row, rows)))


def free_names(bag: BagFile) -> Iterator[str]:
    """Yield the free names after the last row: A09 after A08, A10 after A9."""
    names = [bag.cell(row, "disc") for row in bag.table.rows]
    taken = {name.casefold() for name in names}
    last = names[-1] if names else "A00"
    stem = last.rstrip("0123456789")
    digits = last[len(stem) :]
    first, width = (int(digits[-9:]), len(digits)) if digits else (1, 1)
    for number in count(first + 1):
        name = f"{stem}{number:0{width}d}"
        if name.casefold() not in taken:
            yield name


def empty_bag(units: Units, height: str) -> str:
    """Return a bag file with its header alone; `height` is the one that is measured."""
    lengths = [f"{n}_{units}" for n in ("od", "id", "thickness", height)]
    return (
        ",".join(["disc", *lengths, "edge", f"flat_{units}", f"edge_radius_{units}", "lot", "note"])
        + "\n"
    )
