"""Repeated rows of one disc: averaged when they agree, refused when they do not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from statistics import fmean

from optimizer.errors import Problem
from optimizer.io.bag.rows import Measurement, place
from optimizer.io.columns import Column
from optimizer.model.bag import Repeats
from optimizer.model.job import Instrument

#: two measurements of one disc agree within this many sds of their difference ...
_AGREE_SDS = 6.0
#: ... and always within this, because dirt and touch are not in a declared sd
_AGREE_FLOOR_MM = 0.01
#: so many discs repeated without any difference look like a block pasted twice
_BLOCK = 5
#: a sum of squares below this is none
_SAME_MM2 = 1e-12
#: diameters are nominal to the load formula's eye; a caliper reads them this well
_DIAMETER_MM = 0.05


def grouped(rows: Sequence[Measurement]) -> list[tuple[Measurement, ...]]:
    """Return the rows of each disc together, discs in the order of the file."""
    groups: dict[str, list[Measurement]] = {}
    for row in rows:
        groups.setdefault(row.name, []).append(row)
    return [tuple(group) for group in groups.values()]


def check_repeats(
    file: str, columns: Mapping[str, Column], group: Sequence[Measurement], instrument: Instrument
) -> Iterator[Problem]:
    """Report a disc typed twice with different numbers, edge, lot or set to be kept with.

    Two numbers agree when they differ by less than six standard deviations of a
    difference (sqrt 2 times the instrument's, its display step included), or 0.01 mm.
    """
    height = "cone_height" if "cone_height" in columns else "height"
    thickness_sd = math.sqrt(instrument.thickness_variance_mm2)
    height_sd = math.sqrt(instrument.height_variance_mm2)
    allowed = {
        "thickness": max(_AGREE_FLOOR_MM, _AGREE_SDS * math.sqrt(2) * thickness_sd),
        height: max(_AGREE_FLOOR_MM, _AGREE_SDS * math.sqrt(2) * height_sd),
        "od": _DIAMETER_MM,
        "id": _DIAMETER_MM,
        "flat": _DIAMETER_MM,
        "edge_radius": _DIAMETER_MM,
        "at": _AGREE_FLOOR_MM,
    }
    first = group[0]
    pressed = next((row for row in group if "at" in row.lengths), first)
    for row in group[1:]:
        where = place(file, row.line, row.name)
        for field, most in allowed.items():
            base = pressed if field == "at" else first
            if field not in base.lengths or field not in row.lengths:
                continue
            one, two = base.lengths[field], row.lengths[field]
            if abs(one - two) > most:
                column = columns[field]
                yield Problem(
                    f"Expected {column.heading} of repeats within {most / column.factor:.2g} "
                    f"{column.unit}, got {column.shown(two)} and, on line {base.line}, "
                    f"{column.shown(one)}.",
                    where,
                    "Two discs need two names; one disc: delete the wrong row.",
                    f"repeats {field}",
                )
        for field in ("edge", "lot", "keep_with"):
            words = first.words.get(field, ""), row.words.get(field, "")
            if words[0] != words[1]:
                yield Problem(
                    f"Expected the same {field} in all rows of a disc, got {words[1]!r} and, "
                    f"on line {first.line}, {words[0]!r}.",
                    where,
                    "Two discs need two names; one disc: make its rows agree.",
                    f"repeats {field}",
                )


def pasted_twice(file: str, rows: Sequence[Measurement]) -> list[Problem]:
    """Report a block of rows that stands in the bag twice, which is no second measurement.

    Measured again, some of many discs read differently; where they do not, a note that says
    "again" in each repeated row tells that they were.
    """
    repeated = [group for group in grouped(rows) if len(group) > 1]
    again = [row for group in repeated for row in group[1:]]
    same = all(row.lengths == group[0].lengths for group in repeated for row in group[1:])
    said = any("again" in row.words.get("note", "").lower() for row in again)
    if len(repeated) < _BLOCK or not same or said:
        return []
    return [
        Problem(
            f"{len(repeated)} discs stand in the bag twice with the very same numbers, up to disc "
            f"{again[-1].name}.",
            place(file, again[0].line, again[0].name),
            "Pasted twice? Delete these rows. If they were measured again, write again under note.",
        )
    ]


def differing(groups: Iterable[Sequence[Measurement]], field: str) -> Repeats:
    """Pool how far the measurements of one length differ from the mean of their disc.

    Where none differs at all the numbers were copied, or the display is too coarse to tell.
    """
    square, degrees = 0.0, 0
    for group in groups:
        values = [row.lengths[field] for row in group if field in row.lengths]
        if len(values) > 1:
            middle = fmean(values)
            square += sum((value - middle) ** 2 for value in values)
            degrees += len(values) - 1
    return Repeats(square, degrees) if square > _SAME_MM2 else Repeats()


def averaged(group: Sequence[Measurement]) -> Measurement:
    """Return one measurement with the mean of each length and the notes joined."""
    fields = dict.fromkeys(field for row in group for field in row.lengths)
    lengths = {f: fmean(row.lengths[f] for row in group if f in row.lengths) for f in fields}
    notes = dict.fromkeys(row.words.get("note", "") for row in group)
    words = {**group[0].words, "note": "; ".join(note for note in notes if note)}
    return Measurement(group[0].line, group[0].name, lengths, words)
