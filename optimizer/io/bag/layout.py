"""A table of discs as somebody else wrote it, read as a person agreed to: columns, rows that count.

What such tables look like is common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from unicodedata import normalize

from optimizer.io.bag.columns import BAG, LENGTHS
from optimizer.io.bag.rows import EDGES
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.table import Table, TableRow
from optimizer.model.job import Units

#: words for units, at the end of a heading
UNIT_WORDS: Mapping[str, Units] = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "in": "in", "inch": "in", "inches": "in", '"': "in",
}  # fmt: skip
_TOTAL = re.compile(
    r"((grand|sub) ?)?(totals?|sum|mean|average|avg|median|min(imum)?|max(imum)?|range|count|std|sd"
    r"|st\.? ?dev|nominal|limits?|spec)\b.{0,20}",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Layout:
    """How a table is read.

    `headings` say what each column holds, as a bag names it, empty where it is not used; `rows`
    are the discs, `left` the rows above and among them that are none, each with the reason.
    """

    header: TableRow
    headings: tuple[str, ...]
    rows: tuple[TableRow, ...]
    left: tuple[tuple[TableRow, str], ...]

    @property
    def fields(self) -> dict[str, int]:
        """Columns by the field of a bag that they hold."""
        return {field_of(h): k for k, h in enumerate(self.headings) if h}


def plain(heading: str) -> str:
    """Return a heading as it is remembered: its words and signs, in small letters."""
    return " ".join(words_of(heading))


def laid_out(
    rows: Sequence[TableRow], line: int, headings: Sequence[str], kept: frozenset[int] = frozenset()
) -> Layout:
    """Part the rows of a table into discs and others, by what its columns hold.

    `line` is that of the header; rows on the lines `kept` are discs whatever they look like.
    """
    at = next(k for k, row in enumerate(rows) if row.line == line)
    width = len(headings)
    filled = [row.padded(width) for row in rows]
    header = filled[at]
    fields = {field_of(h): k for k, h in enumerate(headings) if h}
    left = [(row, "above the headings") for row in filled[:at]]
    discs = []
    for row in filled[at + 1 :]:
        why = "" if row.line in kept else _no_disc(row, header, fields)
        if why:
            left.append((row, why))
        else:
            discs.append(row)
    return Layout(header, tuple(headings), tuple(discs), tuple(left))


def _no_disc(row: TableRow, header: TableRow, fields: Mapping[str, int]) -> str:
    """Say why a row is no disc; nothing where it is one."""
    if row.cells == header.cells:
        return "the headings again"
    if all(cell.lower().strip("()[] ") in UNIT_WORDS for cell in row.cells if cell):
        return "units"
    name = row.cells[fields["disc"]] if "disc" in fields else ""
    first = next((cell for cell in row.cells if cell), "")
    if _TOTAL.fullmatch(name) or _TOTAL.fullmatch(first):
        return "a total, or the like"
    measured = [fields[f] for f in ("thickness", "cone_height", "height") if f in fields]
    if measured and not any(number_of(row.cells[k]) for k in measured):
        return "neither thickness nor height"
    return ""


def table_of_layout(
    layout: Layout, everywhere: Mapping[str, str], names: Callable[[], str]
) -> Table:
    """Return the discs of a layout as a table that a bag can be read from.

    `everywhere` holds by heading what is so for every disc and has no column; `names` gives a
    name to each disc where there is no column of names.
    """
    used = [k for k, heading in enumerate(layout.headings) if heading]
    more = {h: v for h, v in everywhere.items() if v and field_of(h) not in layout.fields}
    unnamed = "disc" not in layout.fields
    header = [layout.headings[k] for k in used]
    rows = tuple(
        TableRow(
            row.line,
            (
                *((names(),) if unnamed else ()),
                *(_plain_cell(layout.headings[k], row.cells[k]) for k in used),
                *more.values(),
            ),
        )
        for row in layout.rows
    )
    return Table(TableRow(layout.header.line, (*(("disc",) * unnamed), *header, *more)), rows)


def _plain_cell(heading: str, cell: str) -> str:
    """Return a cell as a bag has it: numbers without their unit, names without spaces."""
    field = field_of(heading)
    if field in LENGTHS:
        bare = re.fullmatch(r"([-+\d.,]+)\s*(\D+)", cell)
        unit = UNIT_WORDS.get(bare[2].strip().lower()) if bare else None
        return bare[1] if bare and unit and heading.endswith(f"_{unit}") else cell
    if field == "disc":
        return re.sub(r"[\s+]+", "-", cell)
    if field == "edge":
        return next((edge for edge in EDGES if cell[:1].lower() == edge[0]), cell)
    return cell


def field_of(heading: str) -> str:
    """Return the field of a bag that a heading of it names; empty where it names none."""
    return next((f.name for f in BAG.fields if heading in f.headings), "")


def words_of(heading: str) -> list[str]:
    """Return the words and signs of a heading, in small letters."""
    return re.findall(r"[^\W_]+|[\"#]", normalize("NFKC", heading).lower())


def number_of(cell: str) -> float | None:
    """Return the number in a cell, with a unit behind it or without; None where there is none."""
    bare = re.fullmatch(r"([-+\d.,]+)\s*(?:mm|in|inch|\")?", cell)
    try:
        return parse_number(bare[1]) if bare else None
    except NotANumber:
        return None
