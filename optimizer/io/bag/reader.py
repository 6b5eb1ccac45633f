"""Read a bag: a table of measurements in, frozen discs and warnings out."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

from optimizer.errors import InputError, Place, Problem, raise_if
from optimizer.io.bag.checks import bag_warnings, names_not_in_bag, repeats_odd
from optimizer.io.bag.columns import BAG, unit_of
from optimizer.io.bag.discs import make_disc
from optimizer.io.bag.repeats import averaged, check_repeats, differing, grouped, pasted_twice
from optimizer.io.bag.rows import Measurement, place, read_row
from optimizer.io.bag.slips import decimal_slips, height_slips, unit_slips
from optimizer.io.columns import Header
from optimizer.io.table import Table, read_table
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Job

_T = TypeVar("_T")


def read_bag(path: Path, job: Job) -> Bag:
    """Read and check the measured discs of a job.

    Parameters
    ----------
    path
        CSV or XLSX, one row for each measurement of a disc; columns as in
        `optimizer.io.bag.columns`.
    job
        Gives default diameters, the default flat, and the instrument that decides
        whether repeats agree.

    Returns
    -------
    Bag
        Discs in the order of their first row, all lengths in mm.

    Raises
    ------
    InputError
        with every problem of the file: place, value and remedy.
    """
    return bag_of(read_table(path, "bag"), path, job)


def bag_of(table: Table, path: Path, job: Job) -> Bag:
    """Check a table of measured discs; `path` names it in messages. Else as in `read_bag`."""
    file = path.name
    line = table.header.line
    header = bag_header(table, file, job)
    problems = list(header.problems)
    bags = [name for name, cells in table.sheets.items() if not _header(file, cells, job).problems]
    if problems and bags:
        said = f"Expected the discs on the first sheet, found a bag on the sheet {bags[0]}."
        raise InputError(said, file, "Make that the first sheet: no other is read.")
    rows: list[Measurement] = []
    for row in table.rows:
        _keep(read_row(file, header.columns, row, bool(_nominal(job))), rows, problems)
    if header.problems:  # without its columns a row tells no more than this
        raise_if(problems)
    slips = unit_slips(file, line, header.columns, rows, job.disc.od_mm)
    slips = slips or list(decimal_slips(file, header.columns, rows))
    problems += pasted_twice(file, rows)
    problems += slips
    discs: list[Disc] = []
    units = unit_of(header.columns, job.units)
    groups = grouped(rows)
    for group in groups:
        problems += check_repeats(file, header.columns, group, job.instrument)
        _keep(make_disc(file, averaged(group), group, job.disc, units), discs, problems)
    if not slips:  # a wrong unit makes any height look wrong
        height = header.columns.get("height") or header.columns.get("cone_height")
        measured = [disc for disc in discs if "cone_height" not in disc.nominal]
        problems += height_slips(file, line, height, measured) if height else []
    name_column = header.columns["disc"].index
    problems += names_not_in_bag(job, [row.cells[name_column] for row in table.rows])
    raise_if(problems)
    tall = "cone_height" if "cone_height" in header.columns else "height"
    repeats = differing(groups, "thickness"), differing(groups, tall)
    warnings = (
        *header.warnings,
        *(
            f"{file}: the sheet {name} holds discs too and is not read: put all on the first."
            for name in bags
        ),
        *bag_warnings(file, discs, job.instrument, units),
        *repeats_odd(file, repeats, job.instrument, job.units),
    )
    return Bag(path, tuple(discs), warnings, *repeats)


def bag_header(table: Table, file: str, job: Job) -> Header:
    """Find the columns of a bag; diameters and nominal lengths that the job gives need none."""
    first = " first sheet," if file.lower().endswith((".xlsx", ".xlsm")) else ""  # no other is read
    return _header(place(f"{file}{first}", table.header.line), table.header.cells, job)


def _header(where: str | Place, cells: tuple[str, ...], job: Job) -> Header:
    known = {"od": job.disc.od_mm, "id": job.disc.id_mm, **_nominal(job)}
    given = [name for name, value in known.items() if value is not None]
    return BAG.read(where, cells, given)


def _nominal(job: Job) -> dict[str, float]:
    """The nominal lengths that a job gives for discs that were not measured."""
    lengths = {"thickness": job.disc.thickness_mm, "cone_height": job.disc.cone_height_mm}
    return {name: value for name, value in lengths.items() if value is not None}


def _keep(read: _T | list[Problem], good: list[_T], problems: list[Problem]) -> None:
    """Put what was read to the good ones, or its problems to the problems."""
    if isinstance(read, list):
        problems += read
    else:
        good.append(read)
