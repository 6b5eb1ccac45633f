"""Pages of a workbook: headings that stay and filter, numbers with fixed decimals, text as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
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
class Sheet:
    """A page to be written: its heads and rows of as many cells."""

    title: str
    heads: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def harmless(words: str) -> str:
    """Return a user's text with spaces for control characters, which a workbook cannot hold."""
    return words if words.isprintable() else "".join(c if c.isprintable() else " " for c in words)


def write(book: Workbook, page: Sheet, job: str) -> tuple[Worksheet, list[str]]:
    """Add a page; every printed sheet of it repeats the heads and names the job.

    Only the heads are written: the rows that are returned are put into the saved file, as the
    cells of a lot are hundreds of thousands (ECMA-376, 18.3.1.73 row and 18.3.1.4 c).
    """
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    sheet: Worksheet = book.create_sheet(page.title)
    line = Side(style="medium", color="FF0D5C63")
    for column, head in enumerate(page.heads, 1):
        heading = sheet.cell(1, column, head)
        heading.font = Font(bold=True)
        heading.alignment = Alignment(wrap_text=True, vertical="top")
        heading.fill = PatternFill("solid", fgColor="FFE3ECEC")
        heading.border = Border(bottom=line)
    styles = []
    for head in page.heads:
        cell = WriteOnlyCell(sheet)
        cell.number_format = _decimals(head)
        styles.append(cell.style_id)
    quoted = WriteOnlyCell(sheet)
    quoted.quotePrefix = True
    letters = [get_column_letter(column) for column in range(1, len(page.heads) + 1)]
    widest = [len(head) + ARROW for head in page.heads]
    rows = []
    for number, row in enumerate(page.rows, 2):
        cells = []
        for column, value in enumerate(row):
            at = f'<c r="{letters[column]}{number}" s="{styles[column]}"'
            if value is None:
                cells.append(f"{at}/>")
                continue
            said = harmless(str(value))
            widest[column] = max(widest[column], len(said) + 2)
            if isinstance(value, str):  # text stays text, also where it begins like a formula
                if said.startswith(FORMULA):
                    at = f'<c r="{letters[column]}{number}" s="{quoted.style_id}"'
                kept = f'<t xml:space="preserve">{escape(said)}</t>'
                cells.append(f'{at} t="inlineStr"><is>{kept}</is></c>')
            else:
                cells.append(f"{at}><v>{said}</v></c>")
        rows.append(f'<row r="{number}">{"".join(cells)}</row>')
    for letter, width in zip(letters, widest, strict=True):
        sheet.column_dimensions[letter].width = min(width, WIDEST)
    _print(sheet, f"A1:{letters[-1]}{len(rows) + 1}", job)
    return sheet, rows


def _decimals(head: str) -> str:
    ends = [end for end in DECIMALS if head.endswith(end)]
    return DECIMALS[max(ends, key=len)] if ends else "General"


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
