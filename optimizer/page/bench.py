"""Where a session on the bench stands: what was read, what the next move is, what to read next.

Opened anew from the files for every page, as `evenstack bench` does when it starts; only the
advice, which takes its time, is kept as long as nothing it rests on changes.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace

from optimizer.bench.chosen import Chosen, after, move_chosen, taken
from optimizer.bench.decide import STOP_AT
from optimizer.bench.keeping import note_known, readings_of
from optimizer.bench.moves import Move
from optimizer.bench.questions import Question, missing, next_round, open_ones, to_read
from optimizer.bench.session import Session, open_session
from optimizer.bench.step import Step
from optimizer.control import Limits, quiet
from optimizer.errors import EvenstackError
from optimizer.estimate.doubts import JudgedReadings
from optimizer.estimate.known import earlier
from optimizer.model.readings import Reading
from optimizer.page.folder import ClutchFolder, plan_file
from optimizer.page.house import House, version
from optimizer.page.marks import Marks, read_marks


@dataclass(frozen=True)
class BenchState:
    """A session as it stands.

    `done` is the advice after all rounds that were read whole, None before the first; `chosen`
    is the move at hand, and `then` the advice with that move as its first. `questions` are what
    the round at hand asks for, `needed` the shoes without which it is not whole; both are empty
    once the set is good enough.
    """

    session: Session
    read: JudgedReadings
    done: Step | None
    then: Step | None
    chosen: Move | None
    round: int
    questions: tuple[Question, ...]
    needed: frozenset[int]
    marks: Marks

    @property
    def changed(self) -> frozenset[int]:
        """Shoes whose stack the move at hand changes."""
        if self.done is None or self.chosen is None:
            return frozenset()
        pairs = enumerate(zip(self.done.stacks, self.chosen.stacks, strict=True), 1)
        return frozenset(shoe for shoe, (before, after) in pairs if before != after)

    @property
    def asked(self) -> list[Question]:
        """What is still to be read of what must be read."""
        todo = open_ones(self.questions, self.read.rows)
        settled = dict.fromkeys(q for q, kind in todo if kind == "settled")
        return [q for q in settled if q.shoe in self.needed]


def open_bench(house: House, clutch: ClutchFolder, plan: str, number: int) -> BenchState:
    """Open the bench session of one set of a plan.

    Raises
    ------
    InputError
        with what is wrong in a file.
    """
    path = plan_file(clutch, plan)
    session = open_session(clutch.job, path, None, number, 0, STOP_AT, 0, False)
    advise = advising(house, session, (version(path), number))
    read = readings_of(session)
    return _standing(session, read, advise, read_marks(path), number)


class advising:  # noqa: N801 - used as a function
    """Advise on readings, once for the same ones."""

    def __init__(self, house: House, session: Session, of: Hashable) -> None:
        """Take a session; `of` names its plan."""
        work = session.work
        others = earlier(session.records, session.record(()))
        self.house, self.session = house, session
        self.key = ("advice", work.job, work.bag, of, tuple(others), session.speed)

    def __call__(self, rows: tuple[Reading, ...]) -> Step:
        """Return the advice after some readings."""
        return self.house.once(
            (*self.key, rows), lambda: self.session.advise(rows, Limits.of(None), quiet)
        )

    def then(self, done: Step, move: Move | None, rows: tuple[Reading, ...]) -> Step:
        """Return an advice after some readings with a move as its first, and where that leads."""
        if move is None or move == done.advice.advised:
            return done
        return self.house.once(
            (*self.key, rows, move.stacks), lambda: taken(self.session, done, move)
        )


def _standing(
    session: Session, read: JudgedReadings, advise: advising, marks: Marks, number: int
) -> BenchState:
    rows = read.rows
    last = rows[-1].round if rows else 1
    chosen = marks.chosen.get(str(number))
    before = tuple(r for r in rows if r.round < last)
    asked = missing(session, rows, advise, chosen)
    if asked:
        done = advise(before) if before else None
        whole = tuple(_whole_round(session, done, chosen, last))
        needed = frozenset(q.shoe for q in asked if q.shoe)
        move = _move(done, chosen, last)
        then = None if done is None else advise.then(done, move, before)
        return BenchState(session, read, done, then, move, last, whole, needed, marks)
    done = advise(rows)
    if done.advice.kind in ("stop", "leave"):
        return BenchState(session, read, done, done, None, last, (), frozenset(), marks)
    if move_chosen(done, chosen, last + 1) is None:
        chosen = None  # none was, or not of this advice: a reading was taken back since
    move = _move(done, chosen, last + 1)
    then = advise.then(done, move, rows)
    questions = tuple(next_round(then, last + 1))
    needed = frozenset(q.shoe for q in to_read(then, last + 1) if q.shoe)
    return BenchState(session, read, done, then, move, last + 1, questions, needed, marks)


def _whole_round(
    session: Session, done: Step | None, chosen: Chosen | None, number: int
) -> list[Question]:
    """Every stack of a round under way, so that the others may be read too."""
    if done is None:
        return [Question(number, shoe, packs) for shoe, packs in session.planned.items()]
    then = after(done, chosen) if chosen is not None and chosen.round == number else done
    return next_round(replace(then, advice=replace(then.advice, kind="swap")), number)


def _move(done: Step | None, chosen: Chosen | None, number: int) -> Move | None:
    """Return the move before a round, if one was advised or chosen."""
    if done is None:
        return None
    if chosen is not None and chosen.round == number:
        return move_chosen(done, chosen, number)
    return done.advice.advised


def try_keep(bench: BenchState) -> str:
    """Keep what is known beside the job; say why where it cannot be said yet."""
    try:
        note_known(bench.session, bench.read.rows)
    except EvenstackError as error:
        return error.lines()[0]
    return ""
