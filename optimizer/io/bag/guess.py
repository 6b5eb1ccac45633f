"""Guessing how a table of discs is meant that somebody else wrote.

All of it is shown to a person before a disc of it counts; `optimizer.io.bag.reader` guesses
nothing. What such tables look like is common practice, no source.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from optimizer.errors import InputError
from optimizer.io.bag.columns import BAG, LENGTHS
from optimizer.io.bag.layout import (
    UNIT_WORDS,
    Layout,
    field_of,
    laid_out,
    number_of,
    plain,
    words_of,
)
from optimizer.io.columns import normal_heading
from optimizer.io.table import TableRow
from optimizer.model.job import Units

#: rows at the top among which the header is looked for
MOST_TITLES = 25
#: headings that must be known before a row is taken for the header
FEWEST = 2
#: words of a heading that say nothing of which length it is
_FILLERS = {"dia", "diameter", "height", "width", "of", "disc", "mean", "average", "measured"}
#: said of the cone and of the whole alike
_EITHER = ("h", "height")
#: above this share of the thickness a height is the overall one: the steepest series of EN 16983
#: has cones of 1.3 thicknesses
_OVERALL = 1.33
#: no washer of a clutch is thinner than this in mm, or wider in inches
_THINNEST_MM, _WIDEST_IN = 0.12, 4.0
_NAMES = {name: f for f in BAG.fields for name in (f.name, *f.also, *f.guessed)}


def guess(
    possible: Sequence[Sequence[TableRow]], units: Units, earlier: Mapping[str, str]
) -> tuple[Layout, Sequence[TableRow]]:
    """Guess how a table is meant; returns the reading of `possible` that makes most sense too.

    Parameters
    ----------
    possible : its rows, once for each separator it may have
    units : of lengths where neither heading nor values tell
    earlier : what columns of these plain headings were agreed to hold before

    Raises
    ------
    InputError
        where no row looks like a header. Words above numbers do, known or not.
    """
    best: tuple[int, int, Sequence[TableRow]] = (0, 0, ())
    for rows in possible:
        for at, row in enumerate(rows[:MOST_TITLES]):
            known = {_meant(c)[0] for c in row.cells if plain(c) not in earlier} - {""}
            score = len(known) + sum(plain(c) in earlier for c in row.cells)
            if score > best[0]:
                best = score, at, rows
    score, at, rows = best
    if score < FEWEST:
        at, rows = next(_strangers(possible), (0, ()))
    if not rows:
        raise InputError(
            "Expected a row of headings, such as disc, thickness, height and edge; found none.",
            "",
            "Put a heading above each column.",
        )
    width = max(k + 1 for row in rows[at:] for k, cell in enumerate(row.cells) if cell)
    headings = _headings(rows, at, width, units, earlier)
    return laid_out(rows, rows[at].line, headings), rows


def _strangers(possible: Sequence[Sequence[TableRow]]) -> Iterator[tuple[int, Sequence[TableRow]]]:
    """Yield rows of words above rows with numbers: headings, though none of them is known."""
    for rows in possible:
        for at, row in enumerate(rows[:MOST_TITLES]):
            words = [cell for cell in row.cells if cell]
            numbers = [number_of(c) for c in (rows[at + 1].cells if at + 1 < len(rows) else ())]
            if len(words) >= FEWEST and not any(map(number_of, words)) and any(numbers):
                yield at, rows


def _meant(heading: str) -> tuple[str, str, Units | None]:
    """Return field, name that told it, and unit of a heading; empty where it tells none."""
    words = words_of(heading)
    unit = UNIT_WORDS.get(words[-1]) if words else None
    words = words[:-1] if unit else words
    bare = [word for word in words if word not in _FILLERS]
    for said in ("_".join(words), "_".join(bare)):
        if said in _NAMES:
            return _NAMES[said].name, said, unit
    long = [name for name in _NAMES if len(name) > 3]
    near = difflib.get_close_matches("_".join(bare or words), long, 1, 0.8)
    return (_NAMES[near[0]].name, near[0], unit) if near else ("", "", unit)


def _headings(
    rows: Sequence[TableRow], at: int, width: int, units: Units, earlier: Mapping[str, str]
) -> list[str]:
    """Say what each column holds."""
    cells = rows[at].padded(width).cells
    below = rows[at + 1 :]
    told = list(_told(cells, below))
    fields = [field for field, _, _ in told]
    fields = _one_each(_named(fields, cells, below), told, below)
    below_units = [
        UNIT_WORDS.get(c.lower().strip("()[] ")) for c in (below[0].cells if below else ())
    ]
    below_units += [None] * (width - len(below_units))
    usual = _usual_unit(fields, below, units, " ".join(c for r in rows[:at] for c in r.cells))
    known = {heading for field in BAG.fields for heading in field.headings}
    found: list[str] = []
    for k, field in enumerate(fields):
        agreed = earlier.get(plain(cells[k])) if cells[k] else None
        heading = f"{field}_{told[k][2] or below_units[k] or usual}" if field in LENGTHS else field
        if (plainly := normal_heading(cells[k])) in known:
            heading = plainly
        heading = heading if agreed is None else agreed
        fits = not heading or (heading in known and field_of(heading) not in map(field_of, found))
        found.append(heading if fits else "")
    return found


def _told(
    cells: Sequence[str], below: Sequence[TableRow]
) -> Iterator[tuple[str, str, Units | None]]:
    """What each heading means; a length without numbers below it is none."""
    for k, cell in enumerate(cells):
        field, name, unit = _meant(cell)
        filled = _filled(below, k)
        numbers = sum(number_of(cell) is not None for cell in filled)
        if field in LENGTHS and filled and 2 * numbers < len(filled):
            field = "disc" if field == "id" else ""
        yield field, name, unit


def _named(fields: Sequence[str], cells: Sequence[str], below: Sequence[TableRow]) -> list[str]:
    """Find the names of discs where no heading tells: all different, under "id" or under nothing.

    Inside diameters are hardly ever all different.
    """
    if "disc" in fields:
        return list(fields)
    for k, field in enumerate(fields):
        filled = _filled(below, k)
        may = field == "id" or not cells[k]
        if may and len(filled) > 2 and len(set(filled)) == len(filled):
            return [*fields[:k], "disc", *fields[k + 1 :]]
    return list(fields)


def _one_each(
    fields: Sequence[str], told: Sequence[tuple[str, str, Units | None]], below: Sequence[TableRow]
) -> list[str]:
    """Take one column for each field and one height; of a height said of either, see which."""
    thick = _middle_of("thickness", fields, below)
    found: list[str] = []
    for k, field in enumerate(fields):
        if told[k][1] in _EITHER and field in ("height", "cone_height"):
            height = _middle(below, k)
            over = height is not None and thick is not None and height > _OVERALL * thick
            field = "height" if over else "cone_height"
        found.append(field if field not in found else "")
    both = "height" in found and "cone_height" in found
    return ["" if both and field == "cone_height" else field for field in found]


def _usual_unit(
    fields: Sequence[str], below: Sequence[TableRow], units: Units, titles: str
) -> Units:
    """Return the unit of headings without one: as a title says, as values tell, else `units`."""
    said = {UNIT_WORDS[word] for word in words_of(titles) if word in UNIT_WORDS and word != "in"}
    if len(said) == 1:
        return said.pop()
    wide = _middle_of("od", fields, below)
    if wide is not None:
        return "in" if wide < _WIDEST_IN else "mm"
    thick = _middle_of("thickness", fields, below)
    return "in" if thick is not None and thick < _THINNEST_MM else units


def _filled(rows: Sequence[TableRow], k: int) -> list[str]:
    """The cells of a column that hold anything."""
    return [row.cells[k] for row in rows if k < len(row.cells) and row.cells[k]]


def _middle(rows: Sequence[TableRow], k: int) -> float | None:
    """Median of the numbers in a column."""
    found = [n for cell in _filled(rows, k) if (n := number_of(cell)) is not None]
    return median(found) if found else None


def _middle_of(field: str, fields: Sequence[str], rows: Sequence[TableRow]) -> float | None:
    return _middle(rows, list(fields).index(field)) if field in fields else None
