"""Words that are understood where a reading is asked for, and the list of what was read."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.estimate.words import load_words, whose_words
from optimizer.model.job import Units
from optimizer.model.readings import Reading

HELP = (
    "At every prompt: a load, Enter to skip, back (take back the last), list, void LINE, "
    "correct LINE LOAD, read SHOE (ask for its stack now), rebuilt SHOE (it was taken apart and "
    "built again), move N (another move), why, q to end."
)
#: words for yes, for insisting on a reading and for leaving
YES = ("", "y", "yes")
KEEP = ("keep", "insist", "ok")
LEAVE = ("q", "quit", "exit")


def listed(rows: tuple[Reading, ...], units: Units) -> Iterator[str]:
    """Say the readings by the lines of their file."""
    for row in rows:
        doubted = " (does not count)" if row.trust == "doubted" else ""
        load = load_words(row.load_n, units)
        yield f"  line {row.line}: {whose_words(row)}: {load}{doubted}"
