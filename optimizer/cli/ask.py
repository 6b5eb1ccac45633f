"""Asking for readings on the terminal, each kept in a file at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from optimizer.bench.keeping import (
    keep,
    keep_swapped,
    meant_for,
    plain_load,
    readings_of,
    typed_load,
)
from optimizer.bench.questions import (
    Open,
    Question,
    built_again,
    next_round,
    open_ones,
    to_read,
    unasked,
)
from optimizer.bench.session import Session
from optimizer.bench.step import Step
from optimizer.cli.output import warn
from optimizer.cli.prompt_words import HELP, KEEP, LEAVE, YES, listed
from optimizer.cli.taking import Taking
from optimizer.errors import InputError
from optimizer.estimate.doubts import Doubt, JudgedReadings
from optimizer.estimate.words import doubt_words, left_out_words, load_words, whose_words
from optimizer.io.readings_log import mark
from optimizer.model.job import Units
from optimizer.model.readings import Reading
from optimizer.report.bench_card import asked_words, bench_text, bench_why, left_words
from optimizer.report.plan_card import set_drawn
from optimizer.text import load_unit


class Ended(Exception):  # noqa: N818 - the user is done, nothing failed
    """No more answers are coming."""


@dataclass
class Talk:
    """What is asked now: everything that was answered stands in the file."""

    taking: Taking
    shows: Callable[[Step], None]
    move: int | None
    questions: list[Question] = field(default_factory=list)
    skipped: list[Open] = field(default_factory=list)
    #: newest last: what was skipped, or None for a reading
    acts: list[Open | None] = field(default_factory=list)
    advised: tuple[Reading, ...] = ()
    done: Step | None = None
    shown: Question | None = None
    notes: tuple[Doubt, ...] = ()

    @property
    def session(self) -> Session:
        """The bench session."""
        return self.taking.session

    @property
    def units(self) -> Units:
        """Units of the job."""
        return self.session.work.job.units

    def read(self) -> JudgedReadings:
        """Return what the file holds by now."""
        return readings_of(self.session)

    def advise(self, rows: tuple[Reading, ...]) -> Step:
        """Say what to do after some readings, and what is to be read then."""
        done, self.advised = self.taking.advise(rows), rows
        if self.move is not None:
            done, self.move = self.taking.take(self.move), None
        return self.say(done)

    def say(self, done: Step) -> Step:
        """Show an advice, and note what it asks for."""
        self.done, self.shown = done, None
        self.shows(done)
        self.questions = to_read(done, self.taking.before)
        self.say_left(())
        return done

    def say_left(self, rows: tuple[Reading, ...]) -> None:
        """Say which stacks a move left alone; `rows` of the round were read already."""
        asked = {q.shoe for q in self.questions} | {row.shoe for row in rows}
        left = [q.shoe for q in self.others() if q.shoe and q.shoe not in asked]
        if asked and left:
            warn(left_words(left))

    def others(self) -> list[Question]:
        """Every stack of the round that is read now."""
        now = self.questions[0].round if self.questions else self.taking.before
        return next_round(self.done, now) if self.done else []

    def run(self) -> None:
        """Ask until a set stops or a round brings nothing new."""
        rows = self.read().rows
        self.questions = self.taking.lacking(rows)
        before = tuple(row for row in rows if row.round < rows[-1].round)
        if self.questions and before:
            done = self.done = self.taking.advise(before)
            warn(bench_text(done, self.session.learned(done)))
            self.say_left(rows[len(before) :])
        elif self.questions and self.questions[0].shoe:
            warn("\n".join(["", *set_drawn(self.session.one, self.session.work)]))
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

    def say_doubts(self, read: JudgedReadings) -> None:
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
            warn(asked_words(question, self.units))
        unit = load_unit(self.units)
        what = "first push" if kind == "first" else "settled load"
        typed = self.prompt(f"  {what} in {unit} (Enter to skip): ", rows)
        if typed in ("", "skip"):
            self.skip(todo[:1])
        elif typed is not None and (load_n := self.load(typed)) is not None:
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
            if answer in YES and doubt.first is not None:
                self.swap(doubt, doubt.first)
                return True
            if answer in YES and doubt.offered_n is not None:
                reading = replace(reading, load_n=doubt.offered_n)
                typed = plain_load(doubt.offered_n, self.units)
            elif answer in YES:
                return False
            elif answer == "skip":
                key = (reading.round, reading.shoe, reading.packs)
                skips = [q for q in self.questions if (q.round, q.shoe, q.packs) == key]
                self.skip([(q, reading.kind) for q in skips])
                return False
            elif answer in KEEP:
                reading = replace(reading, trust="insisted")
                break
            elif (load_n := self.load(answer)) is not None:
                reading, typed = replace(reading, load_n=load_n), answer
        keep(self.session, reading, typed)
        self.acts.append(None)
        return True

    def skip(self, some: list[Open]) -> None:
        """Pass by what is open."""
        self.skipped += some
        self.acts += some

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
            if word in LEAVE:
                raise Ended
            if word == "list":
                for line in listed(rows, self.units):
                    warn(line)
            elif word == "back":
                self.back(rows)
                return None
            elif word == "move":
                if self.take_move(rest.strip(), rows):
                    return None
            elif word in ("rebuilt", "read"):
                if self.ask_also(word, rest.strip(), rows):
                    return None
            elif word == "why":
                warn("" if self.done is None else bench_why(self.done, self.session.work))
            elif word in ("void", "correct"):
                if self.change(word, rest.split(), rows):
                    return None
            elif word in ("help", "?"):
                warn(f"  {HELP}")
            else:
                return typed

    def take_move(self, number: str, rows: tuple[Reading, ...]) -> bool:
        """Take another move than the first, while nothing of it was read; whether it was."""
        if self.done is None or rows != self.advised:
            warn("  A move is chosen before its round is read: take its readings back first.")
            return False
        try:
            self.say(self.taking.take(int(number) if number.isdecimal() else 0))
        except InputError as error:
            warn(f"  {error.lines()[0]}")
            return False
        self.skipped.clear()
        self.acts.clear()
        return True

    def ask_also(self, word: str, number: str, rows: tuple[Reading, ...]) -> bool:
        """Ask for a stack that stands, or was built again unasked; whether it is asked for."""
        shoe = int(number) if number.isdecimal() else None
        asked = built_again if word == "rebuilt" else unasked
        again = asked([*self.questions, *self.others()], shoe, rows)
        if isinstance(again, str):
            warn(f"  {again}")
            return False
        self.questions = [again, *(q for q in self.questions if q.shoe != shoe)]
        self.skipped = [skip for skip in self.skipped if skip[0].shoe != shoe]
        self.acts = [act for act in self.acts if act is None or act[0].shoe != shoe]
        return True

    def load(self, typed: str) -> float | None:
        """Return a load in N, or say why it is none."""
        load_n = typed_load(typed, self.units)
        if isinstance(load_n, str):
            warn(f"  {load_n}")
            return None
        return load_n

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
        mark(self.session.log, row.line, "no")
        self.shown = None
        warn(f"  {whose_words(row)}: {load_words(row.load_n, self.units)} is void.")
        now = self.questions[0].round if self.questions else row.round
        if row.round != now and not any(r.round == now for r in rows):
            self.questions = self.taking.lacking(self.read().rows)
            self.skipped.clear()
