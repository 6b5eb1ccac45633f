"""A bag in a workbook: rows added and taken out of its first sheet, all else left as it is."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.errors import InputError
from optimizer.io.bag.columns import LENGTHS, PRESSED
from optimizer.io.bag.layout import field_of
from optimizer.io.columns import Column, normal_heading
from optimizer.io.files import write_atomic
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.table import TableRow
from optimizer.io.text import read_bytes

if TYPE_CHECKING:
    from openpyxl import Workbook

#: columns whose cells are numbers
NUMBERS = (*LENGTHS, *PRESSED)
#: parts of a workbook that would be lost where it is written anew
_LOST = ("xl/charts/", "xl/drawings/", "xl/media/", "xl/pivotTables/", "xl/externalLinks/")


def is_book(path: Path) -> bool:
    """Whether a bag is a workbook."""
    return path.suffix.lower() in (".xlsx", ".xlsm")


def add_to_book(
    path: Path,
    header: TableRow,
    line: int,
    columns: Mapping[str, Column],
    rows: Iterable[Sequence[str]],
) -> None:
    """Put rows of cells from a line of the first sheet on, and headings that its header lacks.

    Raises
    ------
    InputError
        where the workbook holds what would be lost.
    """
    book = _opened(path)
    lengths = {column.index for name, column in columns.items() if name in NUMBERS}
    for k, heading in enumerate(header.cells, 1):
        if heading and book.worksheets[0].cell(header.line, k).value is None:
            book.worksheets[0].cell(header.line, k, heading)
    for number, cells in enumerate(rows, line):
        for k, cell in enumerate(cells):
            value = _number(cell) if k in lengths else cell
            if cell:
                book.worksheets[0].cell(number, k + 1, value)
    _write(path, book)


def take_from_book(path: Path, line: int) -> None:
    """Take a row out of the first sheet; raises as `add_to_book`."""
    book = _opened(path)
    book.worksheets[0].delete_rows(line)
    _write(path, book)


def new_book(path: Path, header: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a table as a workbook, lengths as numbers."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    lengths = [field_of(normal_heading(heading)) in NUMBERS for heading in header]
    sheet.append(list(header))
    for cells in rows:
        sheet.append(
            [_number(c) if is_one else c for c, is_one in zip(cells, lengths, strict=True)]
        )
    _write(path, book)


def _opened(path: Path) -> Workbook:
    import openpyxl

    data = read_bytes(path, "bag")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = archive.namelist()
    book = openpyxl.load_workbook(io.BytesIO(data), keep_vba=path.suffix.lower() == ".xlsm")
    cells = (cell for sheet in book.worksheets for row in sheet.iter_rows() for cell in row)
    formulas = any(cell.data_type == "f" for cell in cells)
    if formulas or any(name.startswith(_LOST) for name in names):
        what = "formulas" if formulas else "pictures, charts or links"
        raise InputError(
            f"Expected a workbook of plain cells to type into, got one with {what}.",
            path.name,
            "Save it as bag.csv and name that under [bag] file in the job, or type there.",
        )
    return book


def _number(cell: str) -> str | float:
    try:
        return parse_number(cell)
    except NotANumber:
        return cell


def _write(path: Path, book: Workbook) -> None:
    data = io.BytesIO()
    book.save(data)
    write_atomic(path, data.getvalue())
