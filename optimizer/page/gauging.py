"""At the gauge: readings typed and judged, taken back, and moves chosen and ticked."""

from __future__ import annotations

from dataclasses import replace

from optimizer.bench.chosen import choice
from optimizer.bench.keeping import (
    keep,
    keep_swapped,
    meant_for,
    plain_load,
    readings_of,
    typed_load,
)
from optimizer.bench.questions import built_again
from optimizer.errors import InputError
from optimizer.estimate.words import doubt_words, load_words
from optimizer.io.readings_log import mark
from optimizer.model.readings import Kind, Reading
from optimizer.page.asked import Answer, Go, Handler, PageRequest, route
from optimizer.page.bench import BenchState, open_bench, try_keep
from optimizer.page.building import ticked
from optimizer.page.folder import plan_file
from optimizer.page.gauge_view import Halted, asking_of, move_of, other_moves, show
from optimizer.page.marks import read_marks, take_move, write_marks

KINDS: tuple[Kind, ...] = ("first", "settled")


def gauge_page(asked: PageRequest) -> Answer:
    """Show the next move, what to read, and what was read."""
    return show(asked, None)


def reading(asked: PageRequest) -> Answer:
    """Keep one reading, unless it looks like a slip and is not insisted on."""
    bench = _bench(asked)
    shoe, kind = asked.number("shoe"), asked.text("kind")
    question = next((q for q in bench.questions if q.shoe == shoe), None)
    if kind not in KINDS or question is None or asked.number("round") != bench.round:
        raise InputError("The bench has moved on meanwhile: load the page again.")
    again = built_again([question], shoe, bench.read.rows) if asked.text("rebuilt") else question
    question = question if isinstance(again, str) else again  # its first reading has said it
    units, typed = bench.session.work.job.units, asked.text("taken", 40) or asked.text("load", 40)
    there = asking_of(bench, shoe, units, asked.fields).loads.get(kind)
    if there and not asked.text("again"):
        said = f"Shoe {shoe} has a {kind} reading already, typed elsewhere: {there}."
        return show(asked, Halted(shoe, kind, typed, said, other=there), 409)
    load_n = typed_load(typed, units)
    if isinstance(load_n, str):
        return show(asked, Halted(shoe, kind, typed, load_n), 422)
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
        halted = Halted(shoe, kind, typed, said, "" if swaps else offered, swaps, keeps=True)
        return show(asked, halted, 422)
    else:
        keep(session, replace(typed_one, trust="insisted") if doubt else typed_one, typed)
    _timed(asked, kind)
    return _kept(asked, bench)


def _timed(asked: PageRequest, kind: str) -> None:
    """Keep how long a reading took since the one before it of the same round."""
    pace, place = asked.house.pace, f"{asked.path['plan']}/{asked.number('set')}"
    if kind == "settled":
        what = f"read {place}/{asked.number('round')}"
        pace.ended(asked.clutch, what, "reading")
        pace.begins(asked.clutch, what)
    pace.begins(asked.clutch, f"move {place}")


def _bench(asked: PageRequest) -> BenchState:
    """Open the session that a request speaks of."""
    return open_bench(asked.house, asked.clutch, asked.path["plan"], asked.number("set"))


def _kept(asked: PageRequest, bench: BenchState) -> Go:
    """Keep what is known after a change of the readings, and show where that leads."""
    try_keep(replace(bench, read=readings_of(bench.session)))
    return Go(f"{asked.set_url}/gauge")


def marking(word: str) -> Handler:
    """Return what marks the row of a reading: `no` takes it back, `ok` lets one in doubt count."""

    def marked(asked: PageRequest) -> Answer:
        bench = _bench(asked)
        mark(bench.session.log, _row(bench, asked).line, word)
        return _kept(asked, bench)

    return marked


def void_round(asked: PageRequest) -> Answer:
    """Take back every reading of the newest round, to stand where the one before it ended."""
    bench = _bench(asked)
    rows, number = bench.read.rows, asked.number("round")
    if not rows or rows[-1].round != number:
        raise InputError("The readings have changed meanwhile: load the page again.")
    for row in rows:
        if row.round == number:
            mark(bench.session.log, row.line, "no")
    return _kept(asked, bench)


def _row(bench: BenchState, asked: PageRequest) -> Reading:
    """Return the reading that a button stands for, if it still is the one that was shown."""
    line, shown = asked.number("line"), asked.text("load")
    units = bench.session.work.job.units
    for row in bench.read.rows:
        if row.line == line and load_words(row.load_n, units) == shown:
            return row
    raise InputError("The readings have changed meanwhile: load the page again.")


def choose(asked: PageRequest) -> Answer:
    """Take another move than the first."""
    number = asked.number("set")
    bench = _bench(asked)
    back = asked.text("rank") == "advised"
    options = dict(other_moves(bench))
    rank = 0 if back else asked.number("rank")
    late = bench.done is None or asked.number("round") != bench.round
    if bench.done is None or late or not (back or rank in options):
        raise InputError("The bench has moved on meanwhile: load the page again.")
    path = plan_file(asked.clutch, asked.path["plan"])
    chosen = None if back else choice(bench.done, options[rank], bench.round)
    take_move(path, number, bench.round, chosen)
    return Go(f"{asked.set_url}/gauge")


def tick_move(asked: PageRequest) -> Answer:
    """Tick one step of a move."""
    bench = _bench(asked)
    move = move_of(bench, asked)
    part, on = ticked(asked, bench.marks, move.place if move else "")
    if move is None or part not in move.steps:
        raise InputError("The bench has moved on meanwhile: load the page again.")
    path = plan_file(asked.clutch, asked.path["plan"])
    marks = read_marks(path).tick(move.place, part, on)
    write_marks(path, marks)
    if bench.chosen and move.steps.keys() <= set(marks.ticked(move.place)):
        kind = "exchange" if bench.chosen.exchanges else "build"
        pieces = bench.chosen.discs_moved if bench.chosen.exchanges else len(bench.changed)
        what = f"move {asked.path['plan']}/{asked.number('set')}"
        asked.house.pace.ended(asked.clutch, what, kind, pieces)
    return Go(f"{asked.set_url}/gauge")


_AT = "/c/{clutch}/p/{plan}/{set}"
ROUTES = [
    route(f"{_AT}/gauge", gauge_page),
    route(f"{_AT}/reading", reading, writes=True),
    route(f"{_AT}/void", marking("no"), writes=True),
    route(f"{_AT}/void-round", void_round, writes=True),
    route(f"{_AT}/insist", marking("ok"), writes=True),
    route(f"{_AT}/choose", choose, writes=True),
    route(f"{_AT}/tick-move", tick_move, writes=True),
]
