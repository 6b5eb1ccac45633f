"""Asking for readings on the terminal, each kept in a file at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from optimizer import text
from optimizer.bench.session import Session
from optimizer.bench.step import Step
from optimizer.cli.output import warn
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.readings_log import append, has_rows
from optimizer.model.readings import Kind, Reading, Readings
from optimizer.model.stack import Packs, stack_words
from optimizer.units import N_PER_LBF


@dataclass(frozen=True)
class Question:
    """One stack to read: `shoe` None and a travel for discs pressed by themselves."""

    round: int
    shoe: int | None
    packs: Packs
    travel_mm: float | None = None


class Ended(Exception):  # noqa: N818 - the user is done, nothing failed
    """No more answers are coming."""


def converse(
    session: Session, advise: Callable[[tuple[Reading, ...]], Step], show: Callable[[Step], None]
) -> tuple[Step | None, Readings | None]:
    """Ask round after round until the advice is to stop or no answer comes.

    What the file holds from an earlier session is taken up where it ended: nothing is asked
    twice, and what was said last is said again. Returns the last step and the readings it
    was made from.
    """
    log = session.log
    done: Step | None = None
    read: Readings | None = None
    advised = asked = 0
    try:
        while True:
            read = session.read() if has_rows(log) else None
            rows = read.rows if read else ()
            todo = _missing(session, rows, advise) if asked == 0 else []
            if not todo and rows:
                done, advised = advise(rows), len(rows)
                show(done)
                if done.advice.kind == "stop":
                    break
                todo = [
                    Question(rows[-1].round + 1, stack.shoe, stack.packets)
                    for stack in done.next.sets[0].stacks
                ]
            asked += 1
            if not ask(session, log, todo):
                break
    except Ended:
        read = session.read() if has_rows(log) else None
    if read is not None:
        warn(f"The readings are kept in {log}.")
        if len(read.rows) > advised:
            done = advise(read.rows)
            show(done)
    return done, read


def _missing(
    session: Session, rows: tuple[Reading, ...], advise: Callable[[tuple[Reading, ...]], Step]
) -> list[Question]:
    """What the round in the file still lacks; the whole first round when there is none.

    After a move only the stacks that it changed must be read; the others stand as they were.
    """
    if session.size and all(r.shoe is None for r in rows):
        groups, travel, _ = session.groups()
        read = {r.packs for r in rows if r.kind == "settled"}
        return [Question(1, None, group, travel) for group in groups if group not in read]
    last = rows[-1].round if rows else 1
    before = tuple(r for r in rows if r.round < last)
    seen = {r.shoe: r.packs for r in rows if r.round == last and r.kind == "settled"}
    stacks = dict(session.planned)
    if before:
        then = advise(before)
        ordered = {stack.shoe: stack.packets for stack in then.next.sets[0].stacks}
        if any(packs != ordered.get(shoe) for shoe, packs in seen.items() if shoe):
            return []  # another move was made than the one advised
        stacks = {s: packs for s, packs in ordered.items() if packs != then.stacks[s - 1]}
    return [Question(last, shoe, packs) for shoe, packs in stacks.items() if shoe not in seen]


def ask(session: Session, log: Path, questions: list[Question]) -> int:
    """Ask for first and settled loads; Enter skips. Returns how many settled were given.

    Raises
    ------
    Ended
        at the end of the input, or when the user asks to quit.
    """
    units = session.work.job.units
    unit = "lbf" if units == "in" else "N"
    given = 0
    for question in questions:
        place = f"Shoe {question.shoe}" if question.shoe else "Discs by themselves"
        at = (
            ""
            if question.travel_mm is None
            else f", travel {text.length(question.travel_mm, units)}"
        )
        warn(f"{place}, round {question.round}{at}: {stack_words(question.packs)}")
        kinds: tuple[tuple[Kind, str], ...] = (
            ("first", f"  first push in {unit} (Enter to skip): "),
            ("settled", f"  settled load in {unit} (Enter to skip, q to end): "),
        )
        for kind, prompt in kinds:
            answer = _number(prompt)
            if answer is None:
                continue
            typed, value = answer
            newtons = value * N_PER_LBF if units == "in" else value
            reading = Reading(
                question.round, question.shoe, question.packs, kind, newtons, question.travel_mm
            )
            append(log, reading, units, typed)
            given += kind == "settled"
    return given


def _number(prompt: str) -> tuple[str, float] | None:
    """Ask until a load is typed; None when skipped."""
    while True:
        try:
            typed = input(prompt).strip()
        except (EOFError, KeyboardInterrupt):
            raise Ended from None
        if typed.lower() in ("q", "quit", "exit"):
            raise Ended
        if not typed:
            return None
        try:
            value = parse_number(typed)
        except NotANumber as error:
            warn(f"  {typed!r} is not a load. {error}")
            continue
        if value > 0:
            return typed.replace(",", "."), value
        warn(f"  Expected a load > 0, got {typed}.")
