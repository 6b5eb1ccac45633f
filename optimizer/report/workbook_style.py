"""Pages of a workbook: headings that stay and filter, numbers with fixed decimals, text as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

Cell = str | float | int | None

#: formats of numbers by the unit that a heading ends in
DECIMALS = {
    "_mm": "0.000", "_in": "0.0000", "_n": "0.0", "_lbf": "0.0", "_n_per_mm": "0",
    "_lbf_per_in": "0", "share": "0.00",
}  # fmt: skip
#: characters that a column is wide at most, and what a filter's arrow takes
WIDEST, ARROW = 60, 4
#: what a spreadsheet takes for the beginning of a formula
FORMULA = ("=", "+", "-", "@")


@dataclass(frozen=True)
class Page:
    """A page to be written: its heads and rows of as many cells."""

    title: str
    heads: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def harmless(words: str) -> str:
    """Return a user's text with spaces for control characters, which a workbook cannot hold."""
    return words if words.isprintable() else "".join(c if c.isprintable() else " " for c in words)


def write(book: Workbook, page: Page, job: str) -> Worksheet:
    """Add a page; every printed sheet of it repeats the heads and names the job."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    sheet: Worksheet = book.create_sheet(page.title)
    formats = [_decimals(head) for head in page.heads]
    widest = [len(head) + ARROW for head in page.heads]
    line = Side(style="medium", color="FF0D5C63")
    for column, head in enumerate(page.heads, 1):
        heading = sheet.cell(1, column, head)
        heading.font = Font(bold=True)
        heading.alignment = Alignment(wrap_text=True, vertical="top")
        heading.fill = PatternFill("solid", fgColor="FFE3ECEC")
        heading.border = Border(bottom=line)
    last = 1
    for last, row in enumerate(page.rows, 2):
        for column, value in enumerate(row):
            shown = formats[column]
            if value is None and shown is None:
                continue
            cell = sheet.cell(last, column + 1)
            if isinstance(value, str):  # text stays text, also where it begins like a formula
                cell.value, cell.data_type = harmless(value), "s"
                if cell.value.startswith(FORMULA):
                    cell.quotePrefix = True
            else:
                cell.value = value
                if shown is not None:
                    cell.number_format = shown
            widest[column] = max(widest[column], len(str(value)) + 2)
    for column, width in enumerate(widest, 1):
        sheet.column_dimensions[get_column_letter(column)].width = min(width, WIDEST)
    _print(sheet, f"A1:{get_column_letter(len(page.heads))}{last}", job)
    return sheet


def _decimals(head: str) -> str | None:
    ends = [end for end in DECIMALS if head.endswith(end)]
    return DECIMALS[max(ends, key=len)] if ends else None


def _print(sheet: Worksheet, area: str, job: str) -> None:
    """Keep the heads in sight and on paper, with a filter over them."""
    from openpyxl.worksheet.header_footer import HeaderFooterItem, _HeaderFooterPart
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = area
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    said = harmless(job).replace("&", "&&")
    sheet.oddFooter = HeaderFooterItem(
        left=_HeaderFooterPart(text=f"{said}: {sheet.title}"),
        right=_HeaderFooterPart(text="&P / &N"),
    )
