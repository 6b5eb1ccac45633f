"""A move taken instead of the one that is advised: what stands then."""

from __future__ import annotations

from dataclasses import dataclass, replace

from optimizer.bench.decide import Advice, Kind
from optimizer.bench.moves import Move
from optimizer.bench.session import Session
from optimizer.bench.step import Step, next_plan
from optimizer.model.stack import Shims, Stack

#: swaps listed, beside any rebuild
MOST_SWAPS = 3


@dataclass(frozen=True)
class Chosen:
    """A move that was taken instead of the first: what stands after it, read in `round`."""

    round: int
    stacks: tuple[Stack, ...]
    shims_mm: Shims


def ranked(advice: Advice) -> list[Move]:
    """Return the moves of an advice, fewest minutes first, whichever of them was taken."""
    return sorted(advice.moves, key=lambda move: move.in_all)


def offered(advice: Advice) -> list[Move]:
    """Return the moves that are listed, numbered from 1: the best swaps and every rebuild."""
    return [
        move
        for rank, move in enumerate(ranked(advice))
        if rank < MOST_SWAPS or not move.exchanges or move == advice.moves[0]
    ]


def choice(done: Step, move: Move, number: int) -> Chosen | None:
    """Return a move of an advice as one chosen for a round; None for the one advised."""
    if move == done.advice.advised:
        return None
    return Chosen(number, move.stacks, move.shims or done.known.shims_mm)


def after(done: Step, chosen: Chosen) -> Step:
    """Return an advice as if the chosen move were its next plan, loads and chances left alone."""
    one = done.next.sets[0]
    stacks = tuple(
        replace(stack, packets=chosen.stacks[k], shims_mm=chosen.shims_mm[k])
        for k, stack in enumerate(one.stacks)
    )
    then = replace(done.next, sets=(replace(one, stacks=stacks),))
    return replace(done, next=then, advice=replace(done.advice, kind="swap"))


def taken(session: Session, done: Step, move: Move) -> Step:
    """Return the advice with another of its moves as the first, and the plan that it leads to."""
    others = tuple(other for other in done.advice.moves if other != move)
    kind: Kind = "swap" if move.exchanges else "rebuild"
    advice = replace(done.advice, kind=kind, moves=(move, *others), chance_then=None)
    then = next_plan(
        session.work, done.learned, done.task, done.stacks, done.known.shims_mm, move,
        session.seed, done.next.stopped,
    )  # fmt: skip
    return replace(done, advice=advice, next=then)


def move_chosen(done: Step, chosen: Chosen | None, number: int) -> Move | None:
    """Return the move that was chosen for a round; None where none was, or none of this advice."""
    if chosen is None or chosen.round != number or done.advice.kind in ("stop", "leave"):
        return None
    return next((move for move in done.advice.moves if move.stacks == chosen.stacks), None)
