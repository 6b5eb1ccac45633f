"""A move with the hand in mind: only the discs that move, one step a row, to tick as they go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer import text
from optimizer.bench.moves import Exchange, Move
from optimizer.bench.step import Step
from optimizer.model.bag import Bag
from optimizer.model.job import Units
from optimizer.model.stack import Stack, discs_of
from optimizer.page.marks import Marks
from optimizer.page.rows import PartRow, stack_rows
from optimizer.report.advice import place_words


@dataclass(frozen=True)
class Side:
    """One stack before and after a move, from the bottom: what moves, and how many stay.

    A number stands for so many discs that stay as they lie. `height` is the free height to
    check afterwards.
    """

    shoe: int
    before: list[PartRow | int]
    after: list[PartRow | int]
    leaving: frozenset[str]
    coming: frozenset[str]
    height: str


@dataclass(frozen=True)
class Moving:
    """A move: its steps in words by what is ticked of them, and the stacks that it changes."""

    place: str
    steps: dict[str, str]
    ticked: tuple[str, ...]
    sides: tuple[Side, ...]


def moving(then: Step, move: Move, place: str, marks: Marks, bag: Bag, units: Units) -> Moving:
    """Lay out a move from what stands; `then` is the advice with that move as its first."""
    discs = {disc.name: disc for disc in bag.discs}
    sides = []
    for shoe, (before, after) in enumerate(zip(then.stacks, move.stacks, strict=True), 1):
        out = discs_of(before) - discs_of(after)
        new = discs_of(after) - discs_of(before)
        if before != after:
            changed = {k for k, (a, b) in enumerate(zip(before, after, strict=False), 1) if a != b}
            whole = len(before) != len(after) or not move.exchanges
            few = None if whole else changed
            drawn, after_it = (_shortened(stack_rows(p, discs), few) for p in (before, after))
            height = text.length(then.next.sets[0].stacks[shoe - 1].free_height_mm, units)
            sides.append(Side(shoe, drawn, after_it, frozenset(out), frozenset(new), height))
    return Moving(place, _steps(move, then.stacks), marks.ticked(place), tuple(sides))


def _shortened(rows: list[PartRow], changed: set[int] | None) -> list[PartRow | int]:
    """Return the rows of packets that change, the others counted; all where None."""
    found: list[PartRow | int] = []
    for row in rows:
        if changed is None or row.packet in changed:
            found.append(row)
        elif found and isinstance(found[-1], int):
            found[-1] += 1
        else:
            found.append(1)
    return found


def _steps(move: Move, before: tuple[Stack, ...]) -> dict[str, str]:
    """Say what the hand does, one thing after the other."""
    if move.exchanges:
        words = [w for exchange in move.exchanges for w in exchange_steps(exchange, move.stacks)]
    else:
        words = [
            f"Build shoe {shoe} anew, from the bottom: {' '.join(text.packet(p) for p in packs)}"
            for shoe, (packs, stood) in enumerate(zip(move.stacks, before, strict=True), 1)
            if packs != stood
        ]
    return {f"step {k}": said for k, said in enumerate(words, 1)}


def exchange_steps(one: Exchange, stacks: Sequence[Stack]) -> list[str]:
    """Say one exchange as what the hand does; positions count from the bottom."""
    out, bring = text.disc(one.out), text.disc(one.bring)
    where = f"{place_words(one.place, stacks)} from the bottom"
    if one.bring_from is None:
        return [f"Take {out} out of {where}, and put the spare {bring} in its place"]
    there = f"{place_words(one.bring_from, stacks)} from the bottom"
    return [
        f"Take {out} out of {where}, and put {bring} in its place",
        f"Put {out} where {bring} was: {there}",
    ]
