"""A table that is brought: looked at first, then put into the bag, or in its place."""

from __future__ import annotations

import csv
import io
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer.errors import EvenstackError, InputError, Problem
from optimizer.face.sources import read_job
from optimizer.io.bag.columns import LENGTHS
from optimizer.io.bag.reader import bag_of
from optimizer.io.files import write_all_new, write_atomic
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.table import Table, read_table
from optimizer.model.bag import Disc
from optimizer.model.job import Job
from optimizer.page.asked import Answer, Asked, Go, Page, frame, route
from optimizer.page.bag_file import BagFile, columns_of, read_bag_file

KINDS = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm")
#: discs that are shown of a table
MOST_SHOWN = 12


def bring(asked: Asked) -> Answer:
    """Look at a table that was brought, and ask what to do with it."""
    name, data = asked.upload or ("", b"")
    if not name or not data:
        raise InputError("Choose a file first: a table of measured discs, CSV or XLSX.")
    kind = Path(name).suffix.lower()
    if kind not in KINDS:
        raise InputError(Problem(f"Expected CSV or XLSX, got {kind or name}.", name))
    table = _read(name, kind, data)
    return _page(asked, asked.house.put(name, table), name, table)


def _read(name: str, kind: str, data: bytes) -> Table:
    """Read a table from bytes; no name that a browser gives becomes a path."""
    with TemporaryDirectory() as place:
        path = Path(place) / f"table{kind}"
        path.write_bytes(data)
        try:
            return read_table(path, "bag")
        except EvenstackError as error:
            told = (
                Problem(p.what, p.where.replace(str(path), name).replace(path.name, name), p.remedy)
                for p in error.problems
            )
            raise InputError(*told) from None


def _page(asked: Asked, word: str, name: str, table: Table) -> Page:
    clutch = asked.clutch
    job = read_job(clutch.job)
    there = read_bag_file(job.bag_file, job)
    problems: list[str] = []
    discs: tuple[Disc, ...] = ()
    warnings: tuple[str, ...] = ()
    try:
        bag = bag_of(table, Path(name), job)
        discs, warnings = bag.discs, bag.warnings
    except EvenstackError as error:
        problems = error.lines()
    if discs and there.table.rows:
        try:
            bag_of(joined(there, table, job), job.bag_file, job)
            hindrance = ""
        except EvenstackError as error:
            hindrance = error.lines()[0]
    else:
        hindrance = "nothing"
    context = {
        **frame(asked.house, clutch),
        "step": "bag",
        "word": word,
        "file": name,
        "discs": discs[:MOST_SHOWN],
        "count": len(discs),
        "problems": problems,
        "warnings": warnings,
        "there": len(there.table.rows),
        "hindrance": hindrance,
        "units": job.units,
    }
    return Page("bring", context, 422 if problems else 200)


def joined(there: BagFile, brought: Table, job: Job) -> Table:
    """Return the rows of the bag with those of a table, in the columns of the bag.

    Raises
    ------
    InputError
        where the two do not measure the same height, or the bag lacks a column.
    """
    from optimizer.io.table import Row

    columns = columns_of("the table", brought, job)
    heights = {"height", "cone_height"}
    if heights & columns.keys() != heights & there.columns.keys():
        raise InputError("The bag and this table do not measure the same height of a disc.")
    rows = list(there.table.rows)
    line = len(there.text.splitlines())
    for row in brought.rows:
        values = {}
        for name, column in columns.items():
            cell = row.cells[column.index]
            own = there.columns.get(name)
            if name in LENGTHS and own and own.factor != column.factor and cell:
                try:
                    cell = f"{parse_number(cell) * column.factor / own.factor:.6g}"
                except NotANumber as error:
                    raise InputError(f"{cell} is no number. {error}") from None
            values[name] = cell
        line += 1
        rows.append(Row(line, there.cells(values)))
    return Table(there.table.header, tuple(rows))


def put_away(asked: Asked) -> Answer:
    """Put a table that was looked at into the bag, or in its place."""
    word = asked.text("word")
    if word not in asked.house.trays:
        raise InputError("This table is not at hand any more: bring it again.")
    name, table = asked.house.trays[word]
    job = read_job(asked.clutch.job)
    there = read_bag_file(job.bag_file, job)
    if asked.text("how") == "add":
        whole = joined(there, table, job)
        bag_of(whole, job.bag_file, job)
        new = whole.rows[len(there.table.rows) :]
        end = "" if there.text.endswith(("\n", "\r")) else "\n"
        write_atomic(there.path, there.text + end + "".join(there.line(r.cells) for r in new))
    else:
        bag_of(table, Path(name), job)
        if there.table.rows:
            write_all_new({_aside(there.path): there.path.read_bytes()})
        write_atomic(there.path, _csv(table))
    del asked.house.trays[word]
    return Go(f"{asked.clutch.url}/bag")


def _aside(path: Path) -> Path:
    """Name a file beside the bag that is not there yet, for what it held."""
    return next(
        p for k in count(1) if not (p := path.with_name(f"{path.stem}-before-{k}.csv")).exists()
    )


def _csv(table: Table) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.header.cells)
    writer.writerows(row.cells for row in table.rows)
    return out.getvalue()


ROUTES = [
    route("/c/{clutch}/bag/upload", bring, writes=True),
    route("/c/{clutch}/bag/put", put_away, writes=True),
]
