"""Asking for readings on the terminal, each kept in a file at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import typer

from optimizer import text
from optimizer.bench.keeping import keep, keep_swapped, meant_for, plain_load, readings_of
from optimizer.bench.questions import Advise, Open, Question, missing, next_round, open_ones
from optimizer.bench.session import Session
from optimizer.bench.step import Step
from optimizer.cli.output import warn
from optimizer.estimate.doubts import Doubt, Judged
from optimizer.estimate.words import doubt_words, left_out_words, load_words, whose_words
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.readings_log import has_rows, mark_void
from optimizer.model.job import Units
from optimizer.model.readings import Reading
from optimizer.model.stack import stack_words
from optimizer.report.bench_card import wrapped
from optimizer.units import N_PER_LBF

HELP = (
    "At every prompt: a load, Enter to skip, back (take back the last), list, void LINE, "
    "correct LINE LOAD, q to end."
)
#: words for yes, for insisting on a reading and for leaving
_YES = ("", "y", "yes")
_KEEP = ("keep", "insist", "ok")
_LEAVE = ("q", "quit", "exit")


class Ended(Exception):  # noqa: N818 - the user is done, nothing failed
    """No more answers are coming."""


def converse(
    session: Session, advise: Advise, show: Callable[[Step], None]
) -> tuple[Step | None, Judged | None]:
    """Ask round after round until the advice is to stop or no answer comes.

    What the file holds from an earlier session is taken up where it ended: nothing is asked
    twice, and what was said last is said again. Returns the last step and the readings it
    was made from.

    Raises
    ------
    typer.Exit
        with code 130 at Ctrl-C; what was typed is in the file by then.
    """
    warn(wrapped([HELP]).rstrip())
    talk = _Talk(session, advise, show)
    try:
        talk.run()
    except Ended:
        pass
    except KeyboardInterrupt:
        kept = has_rows(session.log)
        said = f"the readings are kept in {session.log}" if kept else "no reading was typed"
        warn(f"\nStopped; {said}.")
        raise typer.Exit(130) from None
    read = talk.read()
    if read.rows:
        warn(f"The readings are kept in {session.log}.")
        if read.rows != talk.advised:
            talk.advise(read.rows)
    return talk.done, read if read.rows else None


@dataclass
class _Talk:
    """What is asked now: everything that was answered stands in the file."""

    session: Session
    advises: Advise
    shows: Callable[[Step], None]
    questions: list[Question] = field(default_factory=list)
    skipped: list[Open] = field(default_factory=list)
    #: newest last: what was skipped, or None for a reading
    acts: list[Open | None] = field(default_factory=list)
    advised: tuple[Reading, ...] = ()
    done: Step | None = None
    shown: Question | None = None
    notes: tuple[Doubt, ...] = ()

    @property
    def units(self) -> Units:
        return self.session.work.job.units

    def read(self) -> Judged:
        return readings_of(self.session)

    def advise(self, rows: tuple[Reading, ...]) -> Step:
        self.done, self.advised, self.shown = self.advises(rows), rows, None
        self.shows(self.done)
        return self.done

    def run(self) -> None:
        """Ask until a set stops or a round brings nothing new."""
        self.questions = missing(self.session, self.read().rows, self.advises)
        while True:
            read = self.read()
            self.say_doubts(read)
            todo = [o for o in open_ones(self.questions, read.rows) if o not in self.skipped]
            if todo:
                self.ask(todo, read.rows)
                continue
            if read.rows == self.advised:
                return
            done = self.advise(read.rows)
            if done.advice.kind in ("stop", "leave"):
                return
            self.questions = next_round(done, read.rows[-1].round + 1)

    def say_doubts(self, read: Judged) -> None:
        """Name rows of the file that do not count, once."""
        for doubt in read.doubts:
            if doubt not in self.notes:
                warn(left_out_words(doubt, self.session.log.name, self.units))
        self.notes = read.doubts

    def ask(self, todo: list[Open], rows: tuple[Reading, ...]) -> None:
        """Ask for one load."""
        question, kind = todo[0]
        if question != self.shown:
            self.shown = question
            place = f"Shoe {question.shoe}" if question.shoe else "Discs by themselves"
            travel = question.travel_mm
            at = "" if travel is None else f", travel {text.length(travel, self.units)}"
            shims = question.shims_mm
            on = "" if shims is None else f", on {text.length(shims, self.units)} of shims"
            warn(f"{place}, round {question.round}{at}{on}: {stack_words(question.packs)}")
        unit = "lbf" if self.units == "in" else "N"
        what = "first push" if kind == "first" else "settled load"
        typed = self.prompt(f"  {what} in {unit} (Enter to skip): ", rows)
        if typed is None:
            return
        if typed in ("", "skip"):
            self.skipped.append((question, kind))
            self.acts.append((question, kind))
        elif (load_n := self.load(typed)) is not None:
            self.take(question.reading(kind, load_n), typed, rows, [q for q, _ in todo])

    def take(
        self, reading: Reading, typed: str, rows: tuple[Reading, ...], others: list[Question]
    ) -> bool:
        """Keep a reading once it is believable or insisted on; whether it was kept."""
        maybe = meant_for(reading, others)
        while doubt := self.session.doubt(rows, reading, maybe):
            warn(f"  {doubt_words(doubt, self.units)}")
            offer = "Enter or yes takes it" if doubt.offered_n else "Enter asks again"
            if doubt.first is not None:
                offer = "Enter or yes swaps the two"
            answer = self.prompt(f"  {offer}; or the right load, keep, skip: ", rows)
            if answer is None:
                return False
            if answer in _YES and doubt.first is not None:
                self.swap(doubt, doubt.first)
                return True
            if answer in _YES and doubt.offered_n is not None:
                reading = replace(reading, load_n=doubt.offered_n)
                typed = plain_load(doubt.offered_n, self.units)
            elif answer in _YES:
                return False
            elif answer == "skip":
                key = (reading.round, reading.shoe, reading.packs)
                skips = [q for q in self.questions if (q.round, q.shoe, q.packs) == key]
                self.skipped += [(q, reading.kind) for q in skips]
                self.acts += [(q, reading.kind) for q in skips]
                return False
            elif answer in _KEEP:
                reading = replace(reading, trust="insisted")
                break
            elif (load_n := self.load(answer)) is not None:
                reading, typed = replace(reading, load_n=load_n), answer
        self.keep(reading, typed)
        return True

    def keep(self, reading: Reading, typed: str) -> None:
        keep(self.session, reading, typed)
        self.acts.append(None)

    def swap(self, doubt: Doubt, first: Reading) -> None:
        """Keep a first push and a settled load that were typed for each other."""
        keep_swapped(self.session, doubt.reading, first)
        self.acts += [None, None]

    def prompt(self, prompt: str, rows: tuple[Reading, ...]) -> str | None:
        """Return what was typed; None where it was a word that changes what is asked."""
        while True:
            try:
                typed = input(prompt).strip().lower()
            except EOFError:
                raise Ended from None
            word, _, rest = typed.partition(" ")
            if word in _LEAVE:
                raise Ended
            if word == "list":
                for row in rows:
                    doubted = " (does not count)" if row.trust == "doubted" else ""
                    load = load_words(row.load_n, self.units)
                    warn(f"  line {row.line}: {whose_words(row)}: {load}{doubted}")
            elif word == "back":
                self.back(rows)
                return None
            elif word in ("void", "correct"):
                if self.change(word, rest.split(), rows):
                    return None
            elif word in ("help", "?"):
                warn(f"  {HELP}")
            else:
                return typed

    def load(self, typed: str) -> float | None:
        """Return a load in N, or say why it is none."""
        try:
            value = parse_number(typed)
        except NotANumber as error:
            warn(f"  {typed!r} is not a load. {error}")
            return None
        if value <= 0:
            warn(f"  Expected a load > 0, got {typed}.")
            return None
        return value * N_PER_LBF if self.units == "in" else value

    def back(self, rows: tuple[Reading, ...]) -> None:
        """Take back what was done last: a skip, or the newest reading of the file."""
        last = self.acts.pop() if self.acts else None
        if last is not None:
            self.skipped.remove(last)
        elif rows:
            self.void(max(rows, key=lambda row: row.line), rows)
        else:
            warn("  Nothing to take back.")
        self.shown = None

    def change(self, word: str, rest: list[str], rows: tuple[Reading, ...]) -> bool:
        """Void or correct the reading on a line of the file; whether it was done."""
        by_line = {str(row.line): row for row in rows}
        wanted = 1 if word == "void" else 2
        if len(rest) != wanted or rest[0] not in by_line:
            usage = "void LINE" if word == "void" else "correct LINE LOAD"
            warn(f"  Write {usage}, with a line that `list` shows.")
            return False
        row = by_line[rest[0]]
        if word == "correct":
            load_n = self.load(rest[1])
            if load_n is None:
                return False
            others = tuple(r for r in rows if r != row)
            right = replace(row, load_n=load_n, trust="usual", line=0)
            if not self.take(right, rest[1], others, self.questions):
                return False
        self.void(row, rows)
        return True

    def void(self, row: Reading, rows: tuple[Reading, ...]) -> None:
        """Mark a row; where a round before the one asked for changed, ask anew from the file."""
        mark_void(self.session.log, row.line)
        self.shown = None
        warn(f"  {whose_words(row)}: {load_words(row.load_n, self.units)} is void.")
        now = self.questions[0].round if self.questions else row.round
        if row.round != now and not any(r.round == now for r in rows):
            self.questions = missing(self.session, self.read().rows, self.advises)
            self.skipped.clear()
