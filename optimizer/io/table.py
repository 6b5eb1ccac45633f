"""Rows of a CSV file or of a workbook's first sheet, as text with line numbers.

Split by the csv module and not by pandas.read_csv, which was tried: a row with a cell too many
shifts all its columns by one without a word, the line of a row is lost after a quoted line end,
the separator of a single column is guessed from its letters ("s" in "disc"), and importing it
adds 0.4 s to every command.
"""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer.errors import InputError, NoRowsError, Problem
from optimizer.io.text import read_bytes, read_text

if TYPE_CHECKING:
    import pandas as pd

_WORKBOOKS = (".xlsx", ".xlsm")
_OTHER_SHEETS = (".xls", ".xlsb", ".ods", ".numbers")
_SEPARATORS = (",", ";", "\t")
#: rows among which the first filled one of a further sheet is looked for
HEAD = 20
#: what a table may hold: rows of a workbook or one brought as it is, and of text (of so many discs
#: a lot is dealt in minutes), columns, bytes, and bytes unpacked of a workbook and its styles
MOST_ROWS, MOST_LINES, MOST_COLUMNS = 20_000, 150_000, 100
MOST_BYTES, MOST_UNPACKED, MOST_STYLES = 10_000_000, 60_000_000, 5_000_000


@dataclass(frozen=True)
class TableRow:
    """The cells of one row, stripped; `line` is its line in the file, or sheet row."""

    line: int
    cells: tuple[str, ...]

    def padded(self, width: int) -> TableRow:
        """Return the row with so many cells, empty ones where it has fewer."""
        return TableRow(self.line, (self.cells + ("",) * width)[:width])


@dataclass(frozen=True)
class Table:
    """A header and the rows below it; rows that are empty throughout are left out.

    `cut` tells that the last line of a text file has neither an end nor all its cells; `sheets`
    has the first filled row of each further sheet of a workbook, by its name: none is read.
    """

    header: TableRow
    rows: tuple[TableRow, ...]
    cut: bool = False
    sheets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_table(path: Path, what: str) -> Table:
    """Read a table with a header from CSV (comma, semicolon or tab) or XLSX.

    Parameters
    ----------
    path
        CSV in UTF-8, or a workbook, of which the first sheet is read.
    what
        Name of the file in messages, as "bag".

    Raises
    ------
    InputError
        when the file cannot be read as such a table.
    NoRowsError
        when it holds no row below its header.
    """
    ended, most = True, MOST_ROWS
    sheets: dict[str, tuple[str, ...]] = {}
    if _is_workbook(path):
        rows, sheets = _workbook(path, what)
    else:
        most = MOST_LINES
        text, first_line = _body(path, what)
        rows, ended = list(_split(path, text, first_line)), text.endswith(("\n", "\r"))
    filled = _filled(path, rows, most)
    if len(filled) < 2:
        held = "only a header" if filled else "no row"
        raise NoRowsError(
            f"Expected a {what} with a header and rows below it, got {held}.",
            str(path),
            "Put the table on the first sheet: no other is read."
            if sheets
            else "Fill in one row for each disc.",
        )
    header = filled[0]
    width = len(header.cells)
    if wide := [row for row in filled if any(row.cells[width:])]:
        raise InputError(_too_wide(path, wide, width))
    cut = not ended and len(filled[-1].cells) < width
    return Table(header, tuple(row.padded(width) for row in filled[1:]), cut, sheets)


def possible_rows(path: Path, what: str) -> list[list[TableRow]]:
    """Read the filled rows of a table that need have no header: once for each separator.

    Raises
    ------
    InputError
        as `read_table` does, but for what concerns the header.
    """
    if _is_workbook(path):
        return [_filled(path, _workbook(path, what)[0])]
    text, first_line = _body(path, what)
    found, refused = [], None
    for separator in _SEPARATORS:
        try:
            found.append(_filled(path, list(_split(path, text, first_line, separator))))
        except InputError as error:
            refused = error
    if refused is not None and not found:
        raise refused
    return found


def separator_of(line: str) -> str:
    """Return the separator that a line of a text table has most of."""
    return max(_SEPARATORS, key=line.count)


def written_row(cells: Iterable[str], separator: str = ",", end: str = "\n") -> str:
    """Write cells as a row of a text table."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=end).writerow(cells)
    return out.getvalue()


def _is_workbook(path: Path) -> bool:
    """Tell a workbook by its name; one of another kind, or too large a file, is refused."""
    kind = path.suffix.lower()
    if kind in _OTHER_SHEETS:
        raise InputError(
            f"Expected CSV or XLSX, got {kind}.", str(path), "Save it as .xlsx or .csv."
        )
    if path.is_file():
        _check_size(path, path.stat().st_size, MOST_BYTES)
    return kind in _WORKBOOKS


def _filled(path: Path, rows: list[TableRow], most: int = MOST_ROWS) -> list[TableRow]:
    """Return the rows that hold anything."""
    if len(rows) > most:
        raise InputError(
            f"Expected at most {most} rows, got more.",
            str(path),
            "Delete empty rows, or give the discs in several bags.",
        )
    return [row for row in rows if any(row.cells)]


def table_of(frame: pd.DataFrame, what: str) -> Table:
    """Return a table held in memory; its rows count as lines of a file below the header.

    Raises
    ------
    NoRowsError
        when it holds no row.
    """
    if not len(frame):
        raise NoRowsError(f"Expected a {what} with rows, got none.", "DataFrame")
    cells = frame.astype(object).where(frame.notna(), None)
    rows = (TableRow(line, _stripped(row)) for line, row in enumerate(cells.to_numpy(), 2))
    filled = tuple(row for row in rows if any(row.cells))
    return Table(TableRow(1, _stripped(frame.columns)), filled)


def _too_wide(path: Path, rows: list[TableRow], width: int) -> Problem:
    more = f" (and on {len(rows) - 1} more lines)" if len(rows) > 1 else ""
    return Problem(
        f"Expected {width} cells as in the header, got {len(rows[0].cells)}{more}.",
        f"{path.name} line {rows[0].line}",
        "Numbers with a decimal comma need a file separated by semicolons, or quotes.",
    )


def _body(path: Path, what: str) -> tuple[str, int]:
    """Text of a file below a spreadsheet's note and remarks, and the line where it begins."""
    if read_bytes(path, what).startswith(b"PK\x03\x04"):
        raise InputError(
            f"Expected CSV text, got a workbook or archive named {path.name}.",
            str(path),
            "Give a workbook the ending .xlsx.",
        )
    text = read_text(path, what)
    head, _, rest = text.partition("\n")
    first_line = 1
    if head.strip().lower().startswith("sep=") and rest:  # a spreadsheet's own note
        text, first_line = rest, 2
    while text.startswith("#"):  # remarks above the header
        text, first_line = text.partition("\n")[2], first_line + 1
    return text, first_line


def _split(path: Path, text: str, first_line: int, separator: str = "") -> Iterator[TableRow]:
    """Split a text into rows; where no separator is given, by the one its first line has most."""
    separator = separator or separator_of(text.lstrip("\r\n\t ;,").partition("\n")[0])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = first_line
    try:
        for cells in reader:
            yield TableRow(line, _stripped(cells))
            line = first_line + reader.line_num
    except csv.Error as error:
        raise InputError(
            f"Expected cells separated by {separator!r}, got a row that cannot be split ({error}).",
            f"{path.name} line {line}",
            "Look for a quotation mark that is never closed.",
        ) from error


def _stripped(cells: Iterable[object]) -> tuple[str, ...]:
    return tuple(_as_text(cell).strip() for cell in cells)


def _as_text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)


def _workbook(path: Path, what: str) -> tuple[list[TableRow], dict[str, tuple[str, ...]]]:
    """Rows of the first sheet, and the first filled row of each other sheet that has one."""
    data = read_bytes(path, what)
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            sizes = {entry.filename: entry.file_size for entry in archive.infolist()}
        _check_size(path, sum(sizes.values()), MOST_UNPACKED)
        _check_size(path, sizes.get("xl/styles.xml", 0), MOST_STYLES)
        with warnings.catch_warnings(action="ignore"):  # about styles and links, not cells
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            first, *others = book.worksheets
            heads = {sheet.title: next(filter(any, _cells(sheet, HEAD)), ()) for sheet in others}
            rows = [TableRow(line, cells) for line, cells in enumerate(_cells(first, MOST_ROWS), 1)]
            return rows, {name: head for name, head in heads.items() if head}
    except InputError:
        raise
    except Exception as error:  # a damaged workbook raises anything, from zlib.error to KeyError
        raise InputError(
            "Expected a workbook, got a file that does not open as one.",
            str(path),
            "Open it in a spreadsheet and save it as .xlsx or .csv.",
        ) from error


def _cells(sheet: Any, most: int) -> Iterator[tuple[str, ...]]:
    """Cells of a sheet, row by row: so many rows and one more."""
    sheet.reset_dimensions()  # what the file says of its size may be stale
    rows = sheet.iter_rows(max_row=most + 1, max_col=MOST_COLUMNS, values_only=True)
    return map(_stripped, rows)


def _check_size(path: Path, size: int, most: int) -> None:
    if size > most:
        raise InputError(
            f"Expected at most {most / 1e6:g} MB of table, got {size / 1e6:.0f} MB.",
            str(path),
            "Save the table alone, as .csv without formats.",
        )
