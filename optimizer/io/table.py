"""Rows of a CSV file or of a workbook's first sheet, as text with line numbers."""

from __future__ import annotations

import csv
import io
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import InputError, Problem
from optimizer.io.text import read_bytes, read_text

_WORKBOOKS = (".xlsx", ".xlsm")
_OTHER_SHEETS = (".xls", ".xlsb", ".ods", ".numbers")
_SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True)
class Row:
    """The cells of one row, stripped; `line` is its line in the file, or sheet row."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A header and the rows below it; rows that are empty throughout are left out."""

    header: Row
    rows: tuple[Row, ...]


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
        when the file cannot be read as such a table, or holds no row below its header.
    """
    kind = path.suffix.lower()
    if kind in _OTHER_SHEETS:
        raise InputError(
            Problem(f"Expected CSV or XLSX, got {kind}.", str(path), "Save it as .xlsx or .csv.")
        )
    rows = _workbook_rows(path, what) if kind in _WORKBOOKS else _text_rows(path, what)
    filled = [row for row in rows if any(row.cells)]
    if len(filled) < 2:
        held = "only a header" if filled else "no row"
        raise InputError(
            Problem(
                f"Expected a {what} with a header and rows below it, got {held}.",
                str(path),
                "Fill in one row for each disc.",
            )
        )
    header = filled[0]
    width = len(header.cells)
    if wide := [row for row in filled if any(row.cells[width:])]:
        raise InputError(_too_wide(path, wide, width))
    return Table(header, tuple(Row(r.line, _padded(r.cells, width)) for r in filled[1:]))


def _padded(cells: tuple[str, ...], width: int) -> tuple[str, ...]:
    return (cells + ("",) * width)[:width]


def _too_wide(path: Path, rows: list[Row], width: int) -> Problem:
    more = f" (and on {len(rows) - 1} more lines)" if len(rows) > 1 else ""
    return Problem(
        f"Expected {width} cells as in the header, got {len(rows[0].cells)}{more}.",
        f"{path.name} line {rows[0].line}",
        "Numbers with a decimal comma need a file separated by semicolons, or quotes.",
    )


def _text_rows(path: Path, what: str) -> list[Row]:
    if read_bytes(path, what).startswith(b"PK\x03\x04"):
        raise InputError(
            Problem(
                f"Expected CSV text, got a workbook or archive named {path.name}.",
                str(path),
                "Give a workbook the ending .xlsx.",
            )
        )
    text = read_text(path, what)
    head, _, rest = text.partition("\n")
    first_line = 1
    if head.strip().lower().startswith("sep=") and rest:  # a spreadsheet's own note
        text, first_line = rest, 2
    while text.startswith("#"):  # remarks above the header
        text, first_line = text.partition("\n")[2], first_line + 1
    return list(_split(path, text, first_line))


def _split(path: Path, text: str, first_line: int) -> Iterator[Row]:
    start = text.lstrip("\r\n\t ;,").partition("\n")[0]
    separator = max(_SEPARATORS, key=start.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = first_line
    try:
        for cells in reader:
            yield Row(line, _stripped(cells))
            line = first_line + reader.line_num
    except csv.Error as error:
        raise InputError(
            Problem(
                f"Expected cells separated by {separator!r}, got a row that cannot be split "
                f"({error}).",
                f"{path.name} line {line}",
                "Look for a quotation mark that is never closed.",
            )
        ) from error


def _stripped(cells: Iterable[object]) -> tuple[str, ...]:
    return tuple(_as_text(cell).strip() for cell in cells)


def _as_text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)


def _workbook_rows(path: Path, what: str) -> list[Row]:
    data = read_bytes(path, what)
    import openpyxl

    try:
        with warnings.catch_warnings(action="ignore"):  # about styles and links, not cells
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            sheet = book.worksheets[0]
            return [
                Row(line, _stripped(cells))
                for line, cells in enumerate(sheet.iter_rows(values_only=True), 1)
            ]
    except Exception as error:  # a damaged workbook raises anything, from zlib.error to KeyError
        raise InputError(
            Problem(
                "Expected a workbook, got a file that does not open as one.",
                str(path),
                "Open it in a spreadsheet and save it as .xlsx or .csv.",
            )
        ) from error
