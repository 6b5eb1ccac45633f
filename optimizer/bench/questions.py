"""Which stacks are to be read next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import isclose

from optimizer.bench.chosen import Chosen, after
from optimizer.bench.session import Session
from optimizer.bench.step import Step
from optimizer.model.plan import PlanStack
from optimizer.model.readings import Kind, Reading
from optimizer.model.stack import Stack, same_stack

Advise = Callable[[tuple[Reading, ...]], Step]


@dataclass(frozen=True)
class Question:
    """One stack to read: `shoe` None and a travel for discs pressed by themselves.

    `shims_mm` is the total under the stack where it is not that of the plan; `rebuilt` says that
    the stack was taken apart and built again since it was read last.
    """

    round: int
    shoe: int | None
    packs: Stack
    travel_mm: float | None = None
    shims_mm: float | None = None
    rebuilt: bool = False

    def reading(self, kind: Kind, load_n: float) -> Reading:
        """Return the answer."""
        return Reading(
            self.round,
            self.shoe,
            self.packs,
            kind,
            load_n,
            self.travel_mm,
            self.rebuilt,
            shims_mm=self.shims_mm,
        )


#: what is said where no stack of a shoe is to be read
NO_SHOE = "Only discs by themselves are read in this round."

#: a stack and a kind of reading that is not given yet
Open = tuple[Question, Kind]


def open_ones(questions: Sequence[Question], rows: tuple[Reading, ...]) -> list[Open]:
    """What was not read yet, in order; a settled load makes up for the first push."""
    seen = {(r.round, r.shoe, r.packs, r.kind) for r in rows if r.trust != "doubted"}
    kinds: tuple[Kind, ...] = ("first", "settled")
    return [
        (q, kind)
        for q in questions
        if (q.round, q.shoe, q.packs, "settled") not in seen
        for kind in kinds
        if (q.round, q.shoe, q.packs, kind) not in seen
    ]


def next_round(done: Step, number: int) -> list[Question]:
    """What to read after an advice: every stack, or those that no reading of counts yet."""
    waiting = done.unread if done.advice.kind == "reread" else ()
    return [
        _question(number, stack, done)
        for stack in done.next.sets[0].stacks
        if not waiting or stack.shoe in waiting
    ]


def to_read(done: Step, number: int) -> list[Question]:
    """What must be read after an advice: of a move the stacks that it changed.

    The others stand as they were; but no set stops while one of them was never read.
    """
    asked = next_round(done, number)
    if done.advice.kind == "reread":
        return asked
    return [q for q in asked if q.shoe in done.unread or changed(q, done)]


def _question(number: int, stack: PlanStack, done: Step) -> Question:
    planned = done.known.records[-1].shims_mm[stack.shoe - 1]
    total = None if stack.shims_mm == planned else sum(stack.shims_mm)
    return Question(number, stack.shoe, stack.packets, shims_mm=total)


def changed(question: Question, before: Step) -> bool:
    """Whether a stack is another one than stands under its shoe, or on shims of another height."""
    assert question.shoe is not None
    at = question.shoe - 1
    total = question.shims_mm
    if total is None:
        total = sum(before.known.records[-1].shims_mm[at])
    as_before = isclose(total, sum(before.known.shims_mm[at]), abs_tol=1e-6)
    return not (as_before and same_stack(question.packs, before.stacks[at]))


def unasked(
    questions: Sequence[Question], shoe: int | None, rows: tuple[Reading, ...]
) -> Question | str:
    """One of the `questions` of a round by its shoe, to be read though no move asks for it.

    `rows` are what was read; says why where it cannot be asked.
    """
    question = next((q for q in questions if shoe and q.shoe == shoe), None)
    if question is None:
        shoes = sorted({q.shoe for q in questions if q.shoe})
        return f"Write the shoe behind it: {', '.join(map(str, shoes))}." if shoes else NO_SHOE
    if any((row.round, row.shoe) == (question.round, shoe) for row in rows):
        return f"Shoe {shoe} was read in this round already: take that back and read it anew."
    return question


def built_again(
    questions: Sequence[Question], shoe: int | None, rows: tuple[Reading, ...]
) -> Question | str:
    """Ask for a stack that was taken apart and built again, though no move asked for that."""
    question = unasked(questions, shoe, rows)
    return question if isinstance(question, str) else replace(question, rebuilt=True)


def missing(
    session: Session, rows: tuple[Reading, ...], advise: Advise, chosen: Chosen | None
) -> list[Question]:
    """What the round in the file still lacks; the whole first round when there is none.

    After a move, be it `chosen` or the one advised, only the stacks that it changed must be read;
    the others stand as they were. Where reading again was advised, all that was to be read again
    must be.
    """
    counted = tuple(r for r in rows if r.trust != "doubted")
    if session.size and all(r.shoe is None for r in rows):
        groups, travel, _ = session.groups()
        read = {r.packs for r in counted if r.kind == "settled"}
        return [Question(1, None, group, travel) for group in groups if group not in read]
    last = rows[-1].round if rows else 1
    before = tuple(r for r in rows if r.round < last)
    seen = {r.shoe: r.packs for r in counted if r.round == last and r.kind == "settled"}
    asked = [Question(last, shoe, packs) for shoe, packs in session.planned.items()]
    if before:
        then = advise(before)
        if chosen is not None and chosen.round == last:
            then = after(then, chosen)
        ordered = {stack.shoe: stack.packets for stack in then.next.sets[0].stacks}
        if any(not same_stack(packs, ordered[shoe]) for shoe, packs in seen.items() if shoe):
            return []  # another move was made than that one
        asked = to_read(then, last)
    return [question for question in asked if question.shoe not in seen]
