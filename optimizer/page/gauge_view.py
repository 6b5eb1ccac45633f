"""What the gauge page shows: the next move, what to read and what was read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from optimizer import text
from optimizer.bench.moves import Move
from optimizer.estimate.words import left_out_words, load_words
from optimizer.model.job import Job, Units
from optimizer.model.readings import Reading
from optimizer.model.stack import Stack
from optimizer.page.asked import Page, PageRequest, frame
from optimizer.page.bench import BenchState, open_bench
from optimizer.page.moving import Moving, moving
from optimizer.page.shoe_scale import loads_on_scale
from optimizer.report.advice import (
    brief,
    count,
    decision,
    in_clutch_words,
    reason,
    shoes_words,
    suspicions,
)
from optimizer.report.facts import set_facts
from optimizer.report.figures import Figures
from optimizer.report.shoe import checks

#: other moves that are offered
MOST_MOVES = 4


@dataclass(frozen=True)
class GaugeQuestion:
    """One stack to read: its loads so far in this round, and whether it must be read.

    `rebuilt`: it was taken apart and built again unasked; None where that makes no difference.
    """

    shoe: int
    packs: Stack
    loads: dict[str, str]
    needed: bool
    shims: str
    moved: bool
    press: str
    rebuilt: bool | None


@dataclass(frozen=True)
class Halted:
    """A reading that was not kept, because it looks like a slip, or others came before it.

    `keeps`: it may be insisted on.
    """

    shoe: int
    kind: str
    typed: str
    words: str
    offered: str = ""
    swaps: bool = False
    other: str = ""
    keeps: bool = False


def show(asked: PageRequest, halted: Halted | None, status: int = 200) -> Page:
    """Return the page as the files stand now, with a reading that was halted, if one was."""
    clutch, number = asked.clutch, asked.number("set")
    bench = open_bench(asked.house, clutch, asked.path["plan"], number)
    job, done = bench.session.work.job, bench.done
    units, log = job.units, bench.session.log.name
    readings = [r for r in bench.read.rows if r.shoe]
    said = {**asked.query, **asked.fields}
    context: dict[str, Any] = {
        **frame(asked.house, clutch),
        "step": "gauge",
        "name": asked.path["plan"],
        "number": number,
        "sets": bench.session.sets,
        "bench": bench,
        "units": units,
        "unit": text.load_unit(units),
        "asking": [asking_of(bench, q.shoe, units, said) for q in bench.questions],
        "likely": _likely(bench, units) if bench.questions else {},
        "press": sorted({press_words(job, q.shoe or 1) for q in bench.questions}),
        "halted": halted,
        "doubts": [(d.reading.line, left_out_words(d, log, units)) for d in bench.read.doubts],
        "history": _history(readings),
        "load_words": load_words,
        "moving": move_of(bench, asked),
        "others": [(rank, _other_words(move)) for rank, move in other_moves(bench)],
        "back": bench.done is not None and bench.done.advice.kind == "reread",
        "advice": _advice_words(bench),
        "picture": loads_on_scale(bench, units) if done else None,
        "why": reason(bench.then, text.load(job.target.spread_tolerance_n, units))
        if bench.then
        else "",
        "suspicions": suspicions(done) if done else (),
        "in_clutch": in_clutch_words(done, job) if done else "",
    }
    return Page("gauge", context, status)


def asking_of(
    bench: BenchState, shoe: int | None, units: Units, said: Mapping[str, str]
) -> GaugeQuestion:
    """Say what is asked of a shoe in the round at hand, and what was read of it.

    `said` has the shoe whose stack was built again unasked as `rebuilt`.
    """
    question = next(q for q in bench.questions if q.shoe == shoe)
    loads: dict[str, str] = {
        r.kind: load_words(r.load_n, units)
        for r in bench.read.rows
        if (r.round, r.shoe, r.packs) == (question.round, shoe, question.packs)
        and r.trust != "doubted"
    }
    planned = "" if question.shims_mm is None else text.length(question.shims_mm, units)
    needed, moved = shoe in bench.needed, shoe in bench.changed
    press = press_words(bench.session.work.job, shoe or 1)
    free = bench.done is None or moved or loads
    again = None if free else said.get("rebuilt") == str(shoe)
    return GaugeQuestion(shoe or 0, question.packs, loads, needed, planned, moved, press, again)


def press_words(job: Job, shoe: int) -> str:
    """Say how far to press the stack of a shoe."""
    if job.pressed_mm is not None:
        height = text.length(job.pressed_mm[shoe - 1], job.units)
        return f"Press stack and shims together to {height}"
    seating = text.load(job.datum.seating_load_n or 0.0, job.units)
    travel = text.length(job.shoes[shoe - 1].travel_mm, job.units)
    return f"Press to {seating}, zero the travel, press on by {travel}"


def _likely(bench: BenchState, units: Units) -> dict[tuple[int | None, Stack], str]:
    """Say between which loads nineteen of twenty stacks as planned settle, as the sheet does."""
    session, then = bench.session, bench.then
    one, work = session.one, session.work
    if then is not None:
        one, work = then.next.sets[0], session.learned(then)
    figures = Figures(units)
    return {
        (stack.shoe, stack.packets): " to ".join(figures.load(n, 0) for n in check.likely_n)
        for stack, check in zip(one.stacks, checks(one, set_facts(one, work), work), strict=True)
    }


def _history(rows: Sequence[Reading]) -> list[tuple[int, list[Reading]]]:
    """Readings by round, newest round first."""
    rounds = sorted({row.round for row in rows}, reverse=True)
    return [(number, [row for row in rows if row.round == number]) for number in rounds]


def move_of(bench: BenchState, asked: PageRequest) -> Moving | None:
    """Lay out the move before the round at hand, if there is one."""
    if bench.then is None or bench.chosen is None or not bench.questions:
        return None
    place = f"{asked.number('set')}/move-{bench.round}"
    work = bench.session.work
    return moving(bench.then, bench.chosen, place, bench.marks, work.bag, work.job.units)


def other_moves(bench: BenchState) -> list[tuple[int, Move]]:
    """The moves that may be taken instead, while nothing was read after the advice."""
    if bench.done is None or any(r.round == bench.round for r in bench.read.rows):
        return []
    moves = list(enumerate(bench.done.advice.moves))
    kept = [(k, m) for k, m in moves if k < MOST_MOVES or not m.exchanges]
    return [(k, m) for k, m in kept if m != bench.chosen]


def _other_words(move: Move) -> str:
    """Say a move that may be taken instead, and what it promises."""
    anew = f"Build all stacks anew, {count(move)} moved"
    return f"{'; '.join(map(brief, move.exchanges)) or anew}: {text.percent(move.chance)} chance"


def _advice_words(bench: BenchState) -> tuple[str, str]:
    """The next move in a word and a line."""
    done = bench.done
    if done is None:
        left = sorted(bench.needed)
        stacks = "every stack" if len(left) == len(bench.questions) else shoes_words(left)
        return "READ", f"Press {stacks} to the travel and type what the gauge shows."
    if bench.questions and bench.chosen is not None:
        discs = count(bench.chosen)
        moves = "moves" if bench.chosen.discs_moved == 1 else "move"
        word = "SWAP" if bench.chosen.exchanges else "REBUILD"
        return word, f"{discs} {moves}; everything else stays as it stands."
    word, how = decision(done)
    return word, how[0].upper() + how[1:]
