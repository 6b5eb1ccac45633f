"""What hands do to a whole column or one cell: wrong unit, wrong kind of height.

The bounds are common practice for coned disc springs, no source: wide enough for every
size of EN 16983 (a test says so), narrow enough that a factor 25.4 falls outside. Only
discs above 200 mm given in inches are taken for a slip: 8 in is more likely 8 mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from optimizer.errors import Place, Problem
from optimizer.io.bag.columns import LENGTHS
from optimizer.io.bag.rows import Measurement, place
from optimizer.io.columns import Column
from optimizer.model.bag import Disc
from optimizer.units import MM_PER_IN

#: shares of the radial width (od - id)/2 between which a cone height is usual
_CONE_LOW, _CONE_HIGH = 0.05, 0.2
#: above this h/t an overall height is the better explanation
_STEEP = 1.45
#: one value differs this much from the column's median, and the other unit mends it
_FAR, _NEAR = 12.0, 2.5
#: a value further from the median than this factor may have a shifted decimal point, in sizes
#: of so many rows at least
SHIFTED, FEWEST = 4.0, 3
SPOKEN = {"mm": "mm", "in": "inches"}
#: kind of a problem that is a slip of the unit
UNIT = "unit"


def _usual(field: str, od_mm: float) -> tuple[float, float]:
    """Return between which values (mm) a length of a disc of this diameter is usual."""
    return {
        "od": (5.0, 200.0),
        "id": (2.2, 200.0),
        "thickness": (od_mm / 60, od_mm / 7),
        "cone_height": (od_mm / 250, od_mm / 8),
        "height": (od_mm / 50, od_mm / 4),
        "flat": (0.015, od_mm / 12),
        "edge_radius": (0.01, od_mm / 20),
    }[field]


def unit_slips(
    file: str,
    header_line: int,
    columns: Mapping[str, Column],
    rows: Sequence[Measurement],
    od_mm: float | None,
) -> list[Problem]:
    """Report inches in a mm column and mm in an inch column, whole or single.

    Parameters
    ----------
    rows
        All rows that could be read.
    od_mm
        Outside diameter from the job, for a bag without that column.
    """
    problems: list[Problem] = []
    whole: dict[str, list[str]] = {}
    for field in (field for field in LENGTHS if field in columns):
        column = columns[field]
        other, to_other = ("in", MM_PER_IN) if column.unit == "mm" else ("mm", 1 / MM_PER_IN)
        filled = [(row, row.lengths[field]) for row in rows if row.lengths.get(field)]
        if not filled:
            continue
        middle = median(value for _, value in filled)
        if field == "od":
            od_mm = middle
        low, high = _usual(field, od_mm) if od_mm else (0.0, float("inf"))
        if not low <= middle <= high and low <= middle * to_other <= high:
            if field == "od":
                od_mm = middle * to_other
            whole.setdefault(other, []).append(f"{column.shown(middle)} in {column.heading}")
            continue
        problems += [
            Problem(
                f"Expected {SPOKEN[column.unit]} in {column.heading} (median "
                f"{column.shown(middle)}), got {column.shown(value)}, which would fit in "
                f"{SPOKEN[other]}.",
                place(file, row.line, row.name),
                f"Convert it to {SPOKEN[column.unit]}.",
                UNIT,
            )
            for row, value in filled
            if not middle / _FAR < value < middle * _FAR
            and middle / _NEAR < value * to_other < middle * _NEAR
        ]
    return [_whole_slip(place(file, header_line), *found) for found in whole.items()] + problems


def decimal_slips(
    file: str, columns: Mapping[str, Column], rows: Sequence[Measurement]
) -> Iterator[Problem]:
    """Report single values that a shifted decimal point explains.

    One that is more than four times the median of its size, or less than a quarter of it, and
    that a power of ten brings to within a factor two. Thicknesses of one size differ by less
    than three times in EN 16983 (a test says so).
    """
    groups: dict[tuple[float, ...], list[Measurement]] = {}
    for row in rows:
        size = tuple(round(row.lengths[name], 0) for name in ("od", "id") if name in row.lengths)
        groups.setdefault(size, []).append(row)
    for field in ("thickness", "cone_height", "height", "flat", "edge_radius", "load", "at"):
        for group in groups.values():
            filled = [(row, row.lengths[field]) for row in group if row.lengths.get(field)]
            if len(filled) < FEWEST:
                continue
            middle = median(value for _, value in filled)
            for row, value in filled:
                offered = _shifted(value, middle)
                if offered is not None:
                    column = columns[field]
                    yield Problem(
                        f"Expected {column.heading} near {column.shown(middle)} like others "
                        f"of its size, got {column.shown(value)}: {column.shown(offered)}?",
                        place(file, row.line, row.name),
                        "Look for the decimal point.",
                        f"decimal {field}",
                    )


def _shifted(value: float, middle: float) -> float | None:
    """The value with its decimal point where it fits the median; None where it fits as it is."""
    if middle / SHIFTED < value < middle * SHIFTED:
        return None
    near = [value * 10.0**k for k in (-3, -2, -1, 1, 2, 3)]
    return next((v for v in near if middle / 2 < v < middle * 2), None)


def _whole_slip(where: Place, meant: str, medians: Sequence[str]) -> Problem:
    typed = SPOKEN["mm" if meant == "in" else "in"]
    return Problem(
        f"Expected {typed}, got a median of {', '.join(medians)}; "
        f"these would be usual in {SPOKEN[meant]}.",
        where,
        f"If so, end the column's name in _{meant}.",
        UNIT,
    )


def height_slips(
    file: str, header_line: int, column: Column, discs: Sequence[Disc]
) -> list[Problem]:
    """Report overall heights typed as cone heights, the reverse, and heights without cone.

    `discs` are the discs that could be made, their cone height not yet checked: with a
    column of overall heights it is the difference to the thickness and may be negative.
    """
    overall = discs[0].from_overall_height if discs else False
    suspect = [disc for disc in discs if (_is_cone(disc) if overall else _is_overall(disc))]
    typed, meant = ("overall", "cone") if overall else ("cone", "overall")
    rename = "cone_height" if overall else "height"
    if 2 * len(suspect) > len(discs):
        first = suspect[0]
        height, thickness = column.shown(_typed(first)), column.shown(first.thickness_mm)
        return [
            Problem(
                f"Expected {typed} heights in {column.heading}, got what looks like {meant} "
                f"heights for {len(suspect)} of {len(discs)} discs ({first.name}: "
                f"{height} with thickness {thickness}).",
                place(file, header_line),
                f"If so, name the column {rename}_{column.unit}.",
            )
        ]
    problems = [
        Problem(
            f"Expected the {typed} height in {column.heading}, got {column.shown(_typed(disc))} "
            f"with thickness {column.shown(disc.thickness_mm)}: it looks like the {meant} height.",
            place(file, disc.line, disc.name),
            "Overall height is thickness plus cone height; measure again.",
            f"{meant} height",
        )
        for disc in suspect
        if not overall or disc.cone_height_mm <= 0
    ]
    problems += [
        Problem(
            f"Expected overall height > thickness, got {column.shown(_typed(disc))} and "
            f"{column.shown(disc.thickness_mm)} {column.unit}.",
            place(file, disc.line, disc.name),
            "Measure both again; a disc pressed flat is no spring: delete its row.",
            "no cone",
        )
        for disc in discs
        if disc.cone_height_mm <= 0 and disc not in suspect
    ]
    return problems


def _typed(disc: Disc) -> float:
    return disc.cone_height_mm + (disc.thickness_mm if disc.from_overall_height else 0.0)


def _shares(disc: Disc, *lengths: float) -> tuple[float, ...]:
    """Return lengths as shares of the radial width of the disc."""
    return tuple(2 * length / (disc.od_mm - disc.id_mm) for length in lengths)


def _is_overall(disc: Disc) -> bool:
    """Tell whether a value typed as cone height makes more sense as overall height."""
    height, thickness = disc.cone_height_mm, disc.thickness_mm
    share, share_without = _shares(disc, height, height - thickness)
    return (height > _STEEP * thickness or share > _CONE_HIGH) and (
        _CONE_LOW <= share_without <= _CONE_HIGH
    )


def _is_cone(disc: Disc) -> bool:
    """Tell whether a value typed as overall height makes more sense as cone height."""
    share, share_left = _shares(disc, _typed(disc), disc.cone_height_mm)
    return _CONE_LOW <= share <= _CONE_HIGH and share_left < _CONE_LOW
