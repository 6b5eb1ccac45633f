"""Keeping what was read on the gauge: each reading goes to the file at once, and none is lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optimizer.bench.questions import Question
from optimizer.bench.session import Session
from optimizer.estimate.doubts import JudgedReadings
from optimizer.estimate.known import with_record
from optimizer.estimate.words import load_words
from optimizer.io.known_file import write_known
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.readings_log import append, has_rows, mark
from optimizer.model.job import Units
from optimizer.model.readings import Reading
from optimizer.text import load_unit
from optimizer.units import N_PER_LBF


def readings_of(session: Session) -> JudgedReadings:
    """Return the readings of a session, each judged; none where the file holds none yet."""
    return session.read() if has_rows(session.log) else JudgedReadings(())


def meant_for(reading: Reading, questions: Sequence[Question]) -> list[Reading]:
    """Return the readings of other shoes that a load may have been meant for."""
    maybe = [q.reading("settled", reading.load_n) for q in dict.fromkeys(questions)]
    return [r for r in maybe if r.shoe != reading.shoe]


def plain_load(load_n: float, units: Units) -> str:
    """Write a load as one would type it."""
    return load_words(load_n, units).split()[0]


def typed_load(typed: str, units: Units) -> float | str:
    """Return a load in N, or say why what was typed is none."""
    try:
        value = parse_number(typed, f"asked for: {load_unit(units)}")
    except NotANumber as error:
        return f"{typed or 'Nothing'} is not a load. {error}"
    if value <= 0:
        return f"Expected a load > 0, got {typed}."
    return value * N_PER_LBF if units == "in" else value


def keep(session: Session, reading: Reading, typed: str) -> None:
    """Add a reading to the file, its load as it was typed."""
    append(session.log, reading, session.work.job.units, typed.replace(",", "."))


def keep_swapped(session: Session, settled: Reading, first: Reading) -> None:
    """Keep a first push and a settled load that were typed for each other."""
    units = session.work.job.units
    stands = next(r for r in readings_of(session).rows if _same(r, first))
    keep(session, replace(first, load_n=settled.load_n), plain_load(settled.load_n, units))
    keep(session, replace(settled, load_n=first.load_n), plain_load(first.load_n, units))
    mark(session.log, stands.line, "no")


def note_known(session: Session, rows: tuple[Reading, ...]) -> None:
    """Write what was read so far beside the job, where no advice was asked for yet."""
    records = with_record(session.records, session.record(rows))
    write_known(session.work.job, session.work.bag, records, session.speed)


def _same(one: Reading, other: Reading) -> bool:
    key = (one.round, one.shoe, one.packs, one.kind)
    return key == (other.round, other.shoe, other.packs, other.kind) and (
        abs(one.load_n - other.load_n) < 1e-6 * one.load_n
    )
