"""A table that is brought: its columns agreed to, looked at, then put into the bag."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from optimizer.errors import EvenstackError, InputError
from optimizer.face.sources import read_job
from optimizer.io.bag.columns import BAG, LENGTHS, PRESSED, unit_of
from optimizer.io.bag.reader import bag_of
from optimizer.io.files import kept_as, write_all_new
from optimizer.io.numbers import typed_number
from optimizer.io.table import Table, TableRow
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Job
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route
from optimizer.page.bag_file import (
    BagFile,
    add_rows,
    bag_of_clutch,
    columns_of,
    free_names,
    write_bag,
)
from optimizer.page.brought import Brought, agreed, keep_agreed, read_brought

#: discs, rows left out and values of a column that are shown of a table
MOST_SHOWN, MOST_LEFT, MOST_VALUES = 12, 40, 3
PASTED = "pasted.csv"


@dataclass(frozen=True)
class ColumnShown:
    """A column of a table: its place, heading, what it is taken to hold, and first values."""

    number: int
    heading: str
    holds: str
    values: str


def bring(asked: PageRequest) -> Answer:
    """Look at a table that was brought or pasted, and ask how it is meant."""
    name, data = asked.upload or ("", b"")
    pasted = asked.fields.get("pasted", "")
    if data or not pasted.strip():
        pasted = ""
    else:
        name, data = PASTED, pasted.encode(errors="replace")
    if not name or not data:
        raise InputError("Choose a file first, or paste a table of measured discs.")
    units = read_job(asked.clutch.job).units
    brought = read_brought(name, data, units, agreed(asked.clutch.folder))
    brought = replace(brought, pasted=pasted)
    return _page(asked, asked.house.put(brought), brought)


def read_so(asked: PageRequest) -> Answer:
    """Read a table that was brought as a person says that it is meant."""
    word, brought = _at_hand(asked)
    headings = [asked.text(f"column.{k}", 40) for k in range(len(brought.layout.headings))]
    kept = frozenset(
        row.line for row, _ in brought.layout.left if asked.fields.get(f"keep.{row.line}")
    )
    kept |= {line for line in brought.kept if asked.fields.get(f"keep.{line}")}
    known = {heading for one in BAG.fields for heading in one.headings}
    everywhere = {h: asked.text(f"all.{h}", 40) for h in known if f"all.{h}" in asked.fields}
    now = brought.read_so(headings, kept, everywhere)
    asked.house.trays[word] = now
    return _page(asked, word, now)


def _at_hand(asked: PageRequest) -> tuple[str, Brought]:
    word = asked.text("word")
    brought = asked.house.trays.get(word)
    if brought is None:
        raise InputError("This table is not at hand any more: bring it again.")
    return word, brought


def _page(asked: PageRequest, word: str, brought: Brought) -> Page:
    clutch = asked.clutch
    job, there = bag_of_clutch(clutch)
    table = brought.table(free_names(there))
    lacking = [] if brought.plainly is not None else _lacking(brought, job)
    problems: list[str] = []
    discs: tuple[Disc, ...] = ()
    warnings: tuple[str, ...] = ()
    units = job.units
    if not any(brought.everywhere.get(heading, "") == "" for heading in lacking):
        try:
            bag = _read(table, brought.name, job)
            discs, warnings = bag.discs, bag.warnings
            units = unit_of(columns_of(brought.name, table, job), job.units)
        except EvenstackError as error:
            problems = error.lines()
    here = {there.cell(row, "disc") for row in there.table.rows}
    hindrance = "nothing"
    if discs and there.table.rows:
        try:
            bag_of(joined(with_loads(there, table, job), table, job), job.bag_file, job)
            hindrance = ""
        except EvenstackError as error:
            hindrance = error.lines()[0]
    layout = brought.layout
    context = {
        **frame(asked.house, clutch),
        "step": "bag",
        "word": word,
        "file": brought.name,
        "plainly": brought.plainly is not None,
        "agreed": brought.agreed,
        "columns": _columns(brought),
        "choices": [heading for one in BAG.fields for heading in one.headings],
        "left": layout.left[:MOST_LEFT],
        "more_left": max(0, len(layout.left) - MOST_LEFT),
        "kept": [row for row in layout.rows if row.line in brought.kept],
        "lacking": {heading: brought.everywhere.get(heading, "") for heading in lacking},
        "unnamed": "disc" not in layout.fields,
        "discs": discs[:MOST_SHOWN],
        "count": len(discs) or len(table.rows),
        "problems": problems,
        "warnings": warnings,
        "there": len(there.table.rows),
        "hindrance": hindrance,
        "again": [disc.name for disc in discs if disc.name in here],
        "pasted": brought.pasted,
        "units": units,
    }
    return Page("bring", context, 422 if problems else 200)


def _read(table: Table, name: str, job: Job) -> Bag:
    if not table.rows:
        raise InputError(f"No row of {name} is read as a disc.")
    return bag_of(table, Path(name), job)


def _columns(brought: Brought) -> list[ColumnShown]:
    found = []
    for k, (heading, holds) in enumerate(
        zip(brought.layout.header.cells, brought.layout.headings, strict=True)
    ):
        filled = [row.cells[k] for row in brought.layout.rows if row.cells[k]]
        values = ", ".join(value[:20] for value in filled[:MOST_VALUES])
        if heading or values:
            found.append(ColumnShown(k, heading[:60], holds, values))
    return found


def _lacking(brought: Brought, job: Job) -> list[str]:
    """Headings of what every disc needs and neither a column nor the job has."""
    given = {"od": job.disc.od_mm, "id": job.disc.id_mm}
    return [
        f"{name}_{job.units}" if name in LENGTHS else name
        for name in ("edge", "od", "id")
        if name not in brought.layout.fields and given.get(name) is None
    ]


def with_loads(there: BagFile, brought: Table, job: Job) -> BagFile:
    """Return the bag with columns for loads of discs alone, where a table has them."""
    named = columns_of("the table", brought, job)
    return there.widened(name for name in PRESSED if name in named)


def joined(there: BagFile, brought: Table, job: Job) -> Table:
    """Return the rows of the bag with those of a table, in the columns of the bag.

    Raises
    ------
    InputError
        where the two do not measure the same height, or the bag lacks a column.
    """
    columns = columns_of("the table", brought, job)
    heights = {"height", "cone_height"}
    if heights & columns.keys() != heights & there.columns.keys():
        raise InputError("The bag and this table do not measure the same height of a disc.")
    rows = list(there.table.rows)
    line = there.end - 1
    for row in brought.rows:
        values = {}
        for name, column in columns.items():
            cell = row.cells[column.index]
            own = there.columns.get(name)
            if name in (*LENGTHS, *PRESSED) and own and own.factor != column.factor and cell:
                cell = f"{typed_number(cell) * column.factor / own.factor:.6g}"
            values[name] = cell
        line += 1
        rows.append(TableRow(line, there.cells(values)))
    return Table(there.table.header, tuple(rows))


def put_away(asked: PageRequest) -> Answer:
    """Put a table that was looked at into the bag, or in its place."""
    word, brought = _at_hand(asked)
    job, there = bag_of_clutch(asked.clutch)
    table = brought.table(free_names(there))
    _read(table, brought.name, job)
    if asked.text("how") == "add":
        there = with_loads(there, table, job)
        whole = joined(there, table, job)
        bag_of(whole, job.bag_file, job)
        add_rows(there, [row.cells for row in whole.rows[len(there.table.rows) :]])
    else:
        if there.table.rows:
            write_all_new({kept_as(there.path): there.path.read_bytes()})
        write_bag(there, table)
    keep_agreed(asked.clutch.folder, brought)
    del asked.house.trays[word]
    return Go(f"{asked.clutch.url}/bag?put={quote(brought.name)}")


ROUTES = [
    route("/c/{clutch}/bag/upload", bring, writes=True),
    route("/c/{clutch}/bag/columns", read_so, writes=True),
    route("/c/{clutch}/bag/put", put_away, writes=True),
]
