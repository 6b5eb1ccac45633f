"""The advice on a session, and the move that is taken of it: remembered beside the plan."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from optimizer.bench.chosen import choice, move_chosen, offered, taken
from optimizer.bench.questions import Advise, Question, missing
from optimizer.bench.session import Session
from optimizer.bench.step import Step
from optimizer.errors import InputError
from optimizer.model.readings import Reading
from optimizer.page.marks import read_marks, take_move


class Taking:
    """Advises on the readings of one set of a plan, as the page does, and takes moves of it."""

    def __init__(self, session: Session, plan: Path, number: int, work_out: Advise) -> None:
        """Take a session, and what works out the advice on readings."""
        self.session, self.plan, self.number = session, plan, number
        self.work_out = cache(work_out)
        self.first: Step | None = None
        self.shown: Step | None = None
        self.before = 1

    def advise(self, rows: tuple[Reading, ...]) -> Step:
        """Return the advice, with the move first that was taken of it."""
        self.first = done = self.work_out(rows)
        self.before = rows[-1].round + 1 if rows else 1
        chosen = read_marks(self.plan).chosen.get(str(self.number))
        move = move_chosen(done, chosen, self.before)
        self.shown = done if move is None else taken(self.session, done, move)
        return self.shown

    def take(self, number: int) -> Step:
        """Take the move of a number of the last advice, and remember it.

        Raises
        ------
        InputError
            when there is no such move.
        """
        done = self.first
        moves = [] if self.shown is None else offered(self.shown.advice)
        if done is None or not 0 < number <= len(moves):
            raise InputError(
                f"Expected a move from 1 to {len(moves)}, got {number}."
                if moves
                else f"Expected no move, got {number}: none gains anything now.",
                "move",
                "Take one of those that are listed." if moves else "Leave it out.",
            )
        move = moves[number - 1]
        take_move(self.plan, self.number, self.before, choice(done, move, self.before))
        self.shown = taken(self.session, done, move)
        return self.shown

    def lacking(self, rows: tuple[Reading, ...]) -> list[Question]:
        """Return what the round in the file still lacks."""
        chosen = read_marks(self.plan).chosen.get(str(self.number))
        return missing(self.session, rows, self.work_out, chosen)
