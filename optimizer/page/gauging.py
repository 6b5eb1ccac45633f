"""At the gauge: readings typed and judged, and the next move with the hand in mind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from optimizer import text
from optimizer.bench.keeping import keep, keep_swapped, meant_for, plain_load, readings_of
from optimizer.bench.moves import Option
from optimizer.errors import InputError
from optimizer.estimate.doubts import Doubt
from optimizer.estimate.words import doubt_words, left_out_words, load_words
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.readings_log import mark, mark_void
from optimizer.model.job import Units
from optimizer.model.readings import Kind, Reading
from optimizer.page.asked import Answer, Asked, Go, Page, frame, route
from optimizer.page.bench import Bench, choice, open_bench, try_keep
from optimizer.page.building import ticked
from optimizer.page.dots import dots
from optimizer.page.folder import plan_file
from optimizer.page.marks import read_marks, write_marks
from optimizer.page.moving import Moving, moving
from optimizer.units import N_PER_LBF

KINDS: tuple[Kind, ...] = ("first", "settled")
#: other moves that are offered
MOST_MOVES = 4


@dataclass(frozen=True)
class Asking:
    """One stack to read: its loads so far in this round, and whether it must be read."""

    shoe: int
    discs: str
    loads: dict[str, str]
    needed: bool
    shims: str
    moved: bool


@dataclass(frozen=True)
class Halted:
    """A reading that was not kept, because it looks like a slip, or others came before it."""

    shoe: int
    kind: str
    typed: str
    words: str
    offered: str = ""
    swaps: bool = False
    other: str = ""


def gauge_page(asked: Asked) -> Answer:
    """Show the next move, what to read, and what was read."""
    return _page(asked, None)


def _page(asked: Asked, halted: Halted | None, status: int = 200) -> Page:
    clutch, number = asked.clutch, asked.number("set")
    bench = open_bench(asked.house, clutch, asked.path["plan"], number)
    units = bench.session.work.job.units
    done = bench.done
    readings = [r for r in bench.read.rows if r.shoe]
    context: dict[str, Any] = {
        **frame(asked.house, clutch),
        "step": "gauge",
        "name": asked.path["plan"],
        "number": number,
        "bench": bench,
        "units": units,
        "unit": "lbf" if units == "in" else "N",
        "asking": [_asking(bench, question.shoe, units) for question in bench.questions],
        "halted": halted,
        "doubts": [(d.reading.line, _left_out(bench, d, units)) for d in bench.read.doubts],
        "history": _history(readings, units),
        "moving": _moving(bench, asked),
        "others": _others(bench),
        "back": bench.done is not None and bench.done.advice.kind == "reread",
        "tolerance": text.load(bench.session.work.job.target.spread_tolerance_n, units),
        "advice": _advice_words(bench),
        "picture": dots(bench, units) if done else None,
        "suspects": tuple(s.name for s in done.verdict.suspects) if done else (),
        "contradiction": bool(done and done.verdict.contradiction),
        "log": bench.session.log.name,
    }
    return Page("gauge", context, status)


def _left_out(bench: Bench, doubt: Doubt, units: Units) -> str:
    return left_out_words(doubt, bench.session.log.name, units)


def _asking(bench: Bench, shoe: int | None, units: Units) -> Asking:
    question = next(q for q in bench.questions if q.shoe == shoe)
    loads: dict[str, str] = {
        r.kind: load_words(r.load_n, units)
        for r in bench.read.rows
        if (r.round, r.shoe, r.packs) == (question.round, shoe, question.packs)
        and r.trust != "doubted"
    }
    planned = "" if question.shims_mm is None else text.length(question.shims_mm, units)
    words = " ".join(text.packet(p) for p in question.packs)
    return Asking(shoe or 0, words, loads, shoe in bench.needed, planned, shoe in bench.changed)


def _history(rows: Sequence[Reading], units: Units) -> list[tuple[int, list[dict[str, Any]]]]:
    """Readings by round, newest round first."""
    rounds = sorted({row.round for row in rows}, reverse=True)
    return [
        (
            number,
            [
                {
                    "line": row.line,
                    "shoe": row.shoe,
                    "kind": row.kind,
                    "load": load_words(row.load_n, units),
                    "trust": row.trust,
                }
                for row in rows
                if row.round == number
            ],
        )
        for number in rounds
    ]


def _moving(bench: Bench, asked: Asked) -> Moving | None:
    if bench.done is None or bench.chosen is None or not bench.questions:
        return None
    place = f"{asked.number('set')}/move-{bench.round}"
    work = bench.session.work
    return moving(bench.done, bench.chosen, place, bench.marks, work.bag, work.job.units)


def _others(bench: Bench) -> list[tuple[int, Option]]:
    """The moves that may be taken instead, while nothing was read after the advice."""
    if bench.done is None or any(r.round == bench.round for r in bench.read.rows):
        return []
    moves = list(enumerate(bench.done.advice.moves))
    kept = [(k, m) for k, m in moves if k < MOST_MOVES or not m.exchanges]
    return [(k, m) for k, m in kept if m != bench.chosen]


def _advice_words(bench: Bench) -> tuple[str, str]:
    """The next move in a word and a line."""
    done = bench.done
    if done is None:
        return "READ", "Press every stack to the travel and type what the gauge shows."
    kind = done.advice.kind
    if bench.questions and bench.chosen is not None:
        kind = "swap" if bench.chosen.exchanges else "rebuild"
        count = bench.chosen.discs_moved
        discs = "1 disc moves" if count == 1 else f"{count} discs move"
        return kind.upper(), f"{discs}; everything else stays as it stands."
    if kind == "stop":
        return "STOP", "Leave the stacks as they are, and do not take them apart."
    if kind == "leave":
        return "LEAVE", "No move gains anything, and reading again hardly settles it."
    if done.unread:
        shoes = ", ".join(map(str, done.unread))
        return "READ", f"Shoe {shoes}: no reading of it as it stands counts yet."
    return "READ AGAIN", "Push and read every stack once more, without taking it apart."


def reading(asked: Asked) -> Answer:
    """Keep one reading, unless it looks like a slip and is not insisted on."""
    bench = open_bench(asked.house, asked.clutch, asked.path["plan"], asked.number("set"))
    shoe, kind = asked.number("shoe"), asked.text("kind")
    question = next((q for q in bench.questions if q.shoe == shoe), None)
    if kind not in KINDS or question is None or asked.number("round") != bench.round:
        raise InputError("The bench has moved on meanwhile: load the page again.")
    units, typed = bench.session.work.job.units, asked.text("taken", 40) or asked.text("load", 40)
    there = _asking(bench, shoe, units).loads.get(kind)
    if there and not asked.text("again"):
        said = f"Shoe {shoe} has a {kind} reading already, typed elsewhere: {there}."
        return _page(asked, Halted(shoe, kind, typed, said, other=there), 409)
    load_n = _load(typed, units)
    if isinstance(load_n, str):
        return _page(asked, Halted(shoe, kind, typed, load_n), 422)
    typed_one = question.reading("settled" if kind == "settled" else "first", load_n)
    session, answer = bench.session, asked.text("answer")
    others = [q for q in bench.asked if q.shoe != shoe]
    doubt = session.doubt(bench.read.rows, typed_one, meant_for(typed_one, others))
    if doubt is not None and answer == "swap" and doubt.first is not None:
        keep_swapped(session, typed_one, doubt.first)
    elif doubt is not None and answer != "keep":
        offered = "" if doubt.offered_n is None else plain_load(doubt.offered_n, units)
        swaps = doubt.first is not None
        said = doubt_words(doubt, units)
        halted = Halted(shoe, kind, typed, said, "" if swaps else offered, swaps)
        return _page(asked, halted, 422)
    else:
        keep(session, replace(typed_one, trust="insisted") if doubt else typed_one, typed)
    try_keep(replace(bench, read=readings_of(session)))
    return Go(_here(asked))


def _here(asked: Asked) -> str:
    from urllib.parse import quote

    return f"{asked.clutch.url}/p/{quote(asked.path['plan'])}/{asked.number('set')}/gauge"


def _load(typed: str, units: Units) -> float | str:
    """Return a load in N, or say why what was typed is none."""
    try:
        value = parse_number(typed)
    except NotANumber as error:
        return f"{typed or 'Nothing'} is not a load. {error}"
    if value <= 0:
        return f"Expected a load above 0, got {typed}."
    return value * N_PER_LBF if units == "in" else value


def void(asked: Asked) -> Answer:
    """Take a reading back; its row stays in the file, marked."""
    bench = open_bench(asked.house, asked.clutch, asked.path["plan"], asked.number("set"))
    row = _row(bench, asked)
    mark_void(bench.session.log, row.line)
    try_keep(replace(bench, read=readings_of(bench.session)))
    return Go(_here(asked))


def insist(asked: Asked) -> Answer:
    """Let a reading of the file that is in doubt count."""
    bench = open_bench(asked.house, asked.clutch, asked.path["plan"], asked.number("set"))
    row = _row(bench, asked)
    mark(bench.session.log, row.line, "ok")
    try_keep(replace(bench, read=readings_of(bench.session)))
    return Go(_here(asked))


def _row(bench: Bench, asked: Asked) -> Reading:
    """Return the reading that a button stands for, if it still is the one that was shown."""
    line, shown = asked.number("line"), asked.text("load")
    units = bench.session.work.job.units
    for row in bench.read.rows:
        if row.line == line and load_words(row.load_n, units) == shown:
            return row
    raise InputError("The readings have changed meanwhile: load the page again.")


def choose(asked: Asked) -> Answer:
    """Take another move than the first."""
    number = asked.number("set")
    bench = open_bench(asked.house, asked.clutch, asked.path["plan"], number)
    back = asked.text("rank") == "advised"
    options = {k for k, _ in _others(bench)}
    rank = 0 if back else asked.number("rank")
    late = bench.done is None or asked.number("round") != bench.round
    if bench.done is None or late or not (back or rank in options):
        raise InputError("The bench has moved on meanwhile: load the page again.")
    path = plan_file(asked.clutch, asked.path["plan"])
    chosen = None if back else choice(bench.done, rank, bench.round)
    marks = read_marks(path).choose(number, chosen)
    place = f"{number}/move-{bench.round}"
    write_marks(path, replace(marks, ticks={**marks.ticks, place: ()}))
    return Go(_here(asked))


def tick_move(asked: Asked) -> Answer:
    """Tick one step of a move."""
    bench = open_bench(asked.house, asked.clutch, asked.path["plan"], asked.number("set"))
    move = _moving(bench, asked)
    part, on = ticked(asked, bench.marks, move.place if move else "")
    if move is None or part not in {step.part for step in move.steps}:
        raise InputError("The bench has moved on meanwhile: load the page again.")
    path = plan_file(asked.clutch, asked.path["plan"])
    write_marks(path, read_marks(path).tick(move.place, part, on))
    return Go(_here(asked))


_AT = "/c/{clutch}/p/{plan}/{set}"
ROUTES = [
    route(f"{_AT}/gauge", gauge_page),
    route(f"{_AT}/reading", reading, writes=True),
    route(f"{_AT}/void", void, writes=True),
    route(f"{_AT}/insist", insist, writes=True),
    route(f"{_AT}/choose", choose, writes=True),
    route(f"{_AT}/tick-move", tick_move, writes=True),
]
