"""What is known of a job, as a file beside it.

It holds readings, and what they were taken of: discs as measured, datum and travels. Once one
of these has changed the readings say nothing any more, and the file is refused.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from optimizer import text
from optimizer.errors import Problem, raise_if
from optimizer.io.documents import read_document, write_own
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Datum, Job, Units
from optimizer.model.readings import Record, Speed
from optimizer.model.shoe import Shoe
from optimizer.model.stack import discs_of

SCHEMA = "evenstack.known/1"
#: lengths that differ by less are the same
SAME_MM = 1e-6
#: what of a disc a reading depends on, beside its edge
MEASURED = ("od_mm", "id_mm", "thickness_mm", "cone_height_mm", "flat_mm", "edge_radius_mm")


@dataclass(frozen=True)
class _KnownFile:
    """The document: every measured disc that may have been read, and all readings."""

    datum: Datum
    shoes: tuple[Shoe, ...]
    discs: tuple[Disc, ...]
    sessions: tuple[Record, ...]
    speed: Speed | None = None


def known_path(job: Job) -> Path:
    """Return where what is known of a job is kept: job.known.json beside job.toml."""
    return job.path.with_suffix(".known.json")


def relative_source(job: Job, readings: Path) -> str:
    """Name a file of readings from the folder of the job, as long as one can."""
    try:
        return os.path.relpath(readings, job.path.parent)
    except ValueError:  # another drive
        return str(readings)


def write_known(job: Job, bag: Bag, records: tuple[Record, ...], speed: Speed | None) -> None:
    """Write what is known of a job beside it.

    Raises
    ------
    InputError
        when it cannot be written.
    """
    document = _KnownFile(job.datum, job.shoes, bag.discs, records, speed)
    write_own(known_path(job), SCHEMA, document, indent=1)


def read_known(job: Job, bag: Bag) -> tuple[tuple[Record, ...], Speed | None]:
    """Read what is known of a job; nothing where no file stands beside it.

    Raises
    ------
    InputError
        when the file is damaged, or discs, datum or travels have changed since.
    """
    path = known_path(job)
    if not path.exists():
        return (), None
    remedy = "Give --fresh to go by the measurements alone, or move the file away."
    found = read_document(path, _KnownFile, SCHEMA, remedy)
    raise_if(_changes(found, job, bag, path))
    return found.sessions, found.speed


def _travels(shoes: tuple[Shoe, ...]) -> list[tuple[float, float]]:
    """What of the shoes a reading depends on."""
    return [(shoe.travel_mm, shoe.seat_depth_mm) for shoe in shoes]


def _changes(found: _KnownFile, job: Job, bag: Bag, path: Path) -> Iterator[Problem]:
    """Say what the readings were taken of that is no longer so."""
    remedy = (
        f"The readings in {path.name} were taken before. Undo the change, give --fresh to go by "
        f"the measurements alone, or move {path.name} away and read the stacks again."
    )
    if found.datum != job.datum:
        yield Problem("[datum] has changed since the bench session.", job.path.name, remedy)
    if _travels(found.shoes) != _travels(job.shoes):
        yield Problem(
            "Number, travel or seat_depth of the shoes has changed since the bench session.",
            f"{job.path.name}, [clutch]",
            remedy,
        )
    now = {disc.name: disc for disc in bag.discs}
    read = {disc for one in found.sessions for row in one.rows for disc in discs_of(row.packs)}
    for old in found.discs:
        if old.name not in read:
            continue
        new = now.get(old.name)
        if new is None:
            yield Problem(
                f"Disc {old.name} was read on the bench and is no longer in the bag.",
                bag.path.name,
                remedy,
            )
        elif said := _differs(old, new, job.units):
            yield Problem(
                f"Disc {old.name} was read on the bench with {said}.",
                f"{bag.path.name} line {new.line}",
                remedy,
            )


def _differs(old: Disc, new: Disc, units: Units) -> str:
    if old.edge != new.edge:
        return f"edge {old.edge}, not {new.edge}"
    for name in MEASURED:
        before, after = getattr(old, name), getattr(new, name)
        if abs(before - after) > SAME_MM:
            called = name.removesuffix("_mm").replace("_", " ")
            return f"{called} {text.length(before, units)}, not {text.length(after, units)}"
    return ""
