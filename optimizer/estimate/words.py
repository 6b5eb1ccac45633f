"""Readings, and what is odd about them, in words."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer import text
from optimizer.estimate.doubts import Doubt
from optimizer.model.job import Units
from optimizer.model.readings import Reading
from optimizer.model.stack import stack_words
from optimizer.units import N_PER_LBF

#: kinds of doubt with a factor of their own, in the order of `Learned.factors`
KIND_WORDS = {
    "instrument": "instrument",
    "stiffness_flats_shoes": "stiffness, flats and shoes",
    "edges": "edges",
    "gauge": "gauge",
}


def drawn_words(
    names: Sequence[str], typed_mm: Sequence[float], believed_mm: Sequence[float], units: str
) -> str:
    """Say that discs are computed with other cone heights than those typed, and the furthest.

    Nothing where no disc is, as far as lengths are said.
    """
    off = [abs(a - b) for a, b in zip(typed_mm, believed_mm, strict=True)]
    at = off.index(max(off))
    typed, believed = text.length(typed_mm[at], units), text.length(believed_mm[at], units)
    if typed == believed:
        return ""
    return (
        "Loads are computed with values drawn towards the lot's mean, as far as the instrument's "
        f"noise explains the differences: furthest {names[at]}, cone height {typed}, computed with "
        f"{believed}. inspect --json has them all; load --as-measured goes by the values as typed."
    )


def load_words(load_n: float, units: Units) -> str:
    """Say a load as it was typed: "813.8 N"."""
    return f"{load_n / N_PER_LBF:.6g} lbf" if units == "in" else f"{load_n:.6g} N"


def whose_words(reading: Reading) -> str:
    """Say which stack was read, and when."""
    place = f"shoe {reading.shoe}" if reading.shoe else stack_words(reading.packs)
    return f"{place}, round {reading.round}, {reading.kind}"


def doubt_words(doubt: Doubt, units: Units) -> str:
    """Say what is odd about a reading, and what was likely meant."""
    seen = load_words(doubt.reading.load_n, units)
    if doubt.first is not None:
        return (
            f"{seen} settled, above the first push of {load_words(doubt.first.load_n, units)}: "
            "a stack settles below it. Were the two confused?"
        )
    expected = text.load(doubt.expected.load_n, units, 0).split()[0]
    said = f"{seen}: expected {expected} +- {text.load(doubt.expected.sd_n, units, 0)}."
    if doubt.offered_n is not None:
        return f"{said} {load_words(doubt.offered_n, units)}? ({doubt.slip})"
    return f"{said} Is it a slip{f': {doubt.slip}' if doubt.slip else ''}?"


def left_out_words(doubt: Doubt, file: str, units: Units) -> str:
    """Say which row of a file does not count, why, and how it would."""
    row = doubt.reading
    return (
        f"{file} line {row.line}, {whose_words(row)}: {doubt_words(doubt, units)} Left out: "
        "correct it, or write ok under count in its row."
    )
