"""Measuring: a bag typed one disc at a time, each judged before it is put away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from statistics import median
from typing import Any
from urllib.parse import quote, urlencode

from optimizer.errors import EvenstackError, InputError
from optimizer.io.bag.columns import PRESSED
from optimizer.io.bag.reader import bag_of
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.table import TableRow
from optimizer.model.job import Job
from optimizer.page.asked import Answer, Data, Go, Page, PageRequest, frame, route
from optimizer.page.bag_file import (
    BagFile,
    Findings,
    add_rows,
    bag_of_clutch,
    free_names,
    judge,
    take_row,
)
from optimizer.page.bag_picture import bag_picture
from optimizer.page.house import version
from optimizer.page.outlooks import outlook_words

LENGTHS = ("thickness", "height", "od", "id", "flat", "edge_radius", *PRESSED)
#: fields that get a column in the file once something is typed for them
GROWS = ("thickness", "height", "cone_height", *PRESSED)
WORDS = ("disc", "edge", "lot", "keep_with", "note")
#: rows of the list that are shown at once, and where all are asked for
NEWEST, MOST_SHOWN = 12, 400
#: how the fields of a person's own columns begin
OWN = "own."
#: letters of one field
LONGEST = 60


def bag_page(asked: PageRequest) -> Answer:
    """Show the fields of the next disc, or of one to measure again, and what was typed so far."""
    again, out = asked.query.get("again", ""), asked.query.get("out", "")
    if not (again or out):
        return _page(asked, {}, Findings())
    _, bag = bag_of_clutch(asked.clutch)
    if out:
        typed = {n: asked.query[n][:LONGEST] for n in _fields(bag) if n in asked.query}
        return _page(asked, typed, Findings(), out=out)
    row = next((r for r in bag.table.rows if bag.cell(r, "disc") == again), None)
    if row is None:
        return _page(asked, {}, Findings())
    measured = ("thickness", "height", "note", *PRESSED)
    typed = {name: cell for name, cell in _as_typed(bag, row).items() if name not in measured}
    return _page(asked, typed, Findings(), again=again)


def _page(
    asked: PageRequest,
    typed: Mapping[str, str],
    verdict: Findings,
    taken: bool = False,
    status: int = 200,
    out: str = "",
    again: str = "",
) -> Page:
    clutch = asked.clutch
    job, bag = bag_of_clutch(clutch)
    discs, problems = None, []
    try:
        discs = bag_of(bag.table, bag.path, job) if bag.table.rows else None
    except EvenstackError as error:
        problems = error.lines()
    rows = _numbered(bag)
    last = bag.table.rows[-1:]
    same = {name: bag.cell(row, name) for row in last for name in ("edge", "lot", "od", "id")}
    values = {
        **dict.fromkeys(_fields(bag), ""),
        **same,
        "disc": next(free_names(bag)),
        **typed,
    }
    context: dict[str, Any] = {
        **frame(asked.house, clutch),
        "step": "bag",
        "bag": bag,
        "own": OWN,
        "values": values,
        "verdict": verdict,
        "taken": taken,
        "problems": problems,
        "rows": rows[::-1][: MOST_SHOWN if asked.query.get("all") else NEWEST],
        "more": len(rows) > NEWEST and not asked.query.get("all"),
        "count": len({bag.cell(row, "disc") for row in bag.table.rows}),
        "put": asked.query.get("put", ""),
        "picture": bag_picture(discs, bag.unit) if discs else None,
        "outlook": outlook_words(asked.house, clutch) if discs else (),
        "warnings": discs.warnings if discs else (),
        "version": version(bag.path),
        "out": out,
        "again": again,
        "job_has": {"od": job.disc.od_mm is not None, "id": job.disc.id_mm is not None},
    }
    return Page("bag", context, status)


def _numbered(bag: BagFile) -> list[tuple[TableRow, int]]:
    """Return the rows of the bag, each with which measurement of its disc it is."""
    seen: Counter[str] = Counter()
    found = []
    for row in bag.table.rows:
        seen[bag.cell(row, "disc")] += 1
        found.append((row, seen[bag.cell(row, "disc")]))
    return found


def _fields(bag: BagFile) -> tuple[str, ...]:
    """Return the names of the fields of the form, those of a person's own columns last."""
    return (*LENGTHS, *WORDS, *(f"{OWN}{at}" for at in bag.others))


def _shown(asked: PageRequest, bag: BagFile) -> dict[str, str]:
    """Return what was typed, by the fields of the form."""
    return {name: asked.text(name, LONGEST) for name in _fields(bag)}


def _typed(shown: Mapping[str, str], bag: BagFile) -> dict[str, str]:
    """Return what was typed by field of the bag."""
    named = {bag.height if k == "height" else k: v for k, v in shown.items()}
    return {k: v for k, v in named.items() if k in bag.columns or (v and not k.startswith(OWN))}


def add(asked: PageRequest) -> Answer:
    """Put a disc away, unless something is wrong with it or looks odd."""
    job, bag = bag_of_clutch(asked.clutch)
    shown = _shown(asked, bag)
    typed = _typed(shown, bag)
    name = typed.get("disc", "")
    there = any(bag.cell(row, "disc") == name for row in bag.table.rows)
    before = asked.text("version")
    if there and not asked.text("again"):
        taken = before != version(bag.path)
        said = (
            f"{name} is already in the bag, put there meanwhile from elsewhere."
            if taken
            else f"{name} is already in the bag."
        )
        return _page(asked, shown, Findings((said,)), True, 409)
    bag = bag.widened(name for name in GROWS if typed.get(name))
    cells = bag.cells(typed, {at: shown[f"{OWN}{at}"] for at in bag.others})
    verdict = judge(bag, job, cells, name)
    if verdict.problems or (verdict.warnings and not asked.text("insist")):
        same = name if asked.text("again") else ""
        return _page(asked, shown, verdict, status=422, again=same)
    add_rows(bag, [cells])
    pace, tool = asked.house.pace, job.instrument.tool
    pace.ended(asked.clutch, "disc", tool if typed.get("thickness") else "reading")
    pace.begins(asked.clutch, "disc")
    return Go(f"{asked.clutch.url}/bag?put={quote(name)}")


def look(asked: PageRequest) -> Answer:
    """Judge one field while the disc is still in the hand."""
    job, bag = bag_of_clutch(asked.clutch)
    typed = _typed(_shown(asked, bag), bag)
    field = asked.text("field")
    own = bag.height if field == "height" else field
    bag = bag.widened(name for name in GROWS if typed.get(name))
    if own in bag.columns and typed.get(own) and field in LENGTHS:
        try:
            parse_number(typed[own])
        except NotANumber as error:
            return Data({"problems": [f"{typed[own]} is no number. {error}"], "warnings": []})
    filled = _filled(bag, job, typed)
    pressed = filled.get("load") or filled.get("at")
    if not (pressed or (filled.get("thickness") and filled.get(bag.height))):
        return Data({"problems": [], "warnings": []})  # the first disc, and not all of it yet
    verdict = judge(bag, job, bag.cells(filled), typed.get("disc", ""))
    return Data({"problems": verdict.problems[:3], "warnings": verdict.warnings[:3]})


def _filled(bag: BagFile, job: Job, typed: dict[str, str]) -> dict[str, str]:
    """Fill what is not typed yet with what is usual in the bag, so that the rest is judged."""
    filled = dict(typed)
    for name in ("thickness", bag.height, "od", "id"):
        if filled.get(name) or name not in bag.columns:
            continue
        if name in ("od", "id") and getattr(job.disc, f"{name}_mm") is not None:
            continue
        values = []
        for row in bag.table.rows:
            try:
                values.append(parse_number(bag.cell(row, name)))
            except NotANumber:
                continue
        if values:
            filled[name] = f"{median(values):.6g}"
    filled["disc"] = "?new" if not filled.get("disc") else filled["disc"]
    filled["edge"] = filled.get("edge") or "sharp"
    return filled


def _as_typed(bag: BagFile, row: TableRow) -> dict[str, str]:
    """Return what stands in a row by the fields of the form."""
    cells = {name: bag.cell(row, name) for name in bag.columns}
    fields = {("height" if name == bag.height else name): cell for name, cell in cells.items()}
    return fields | {f"{OWN}{at}": row.cells[at] for at in bag.others}


def remove(asked: PageRequest) -> Answer:
    """Take one row out of the bag; it stands in the fields, to be mended and put back.

    It goes along in the address, so that it outlasts a page that is loaded again.
    """
    _, bag = bag_of_clutch(asked.clutch)
    line = asked.number("line")
    row = next((row for row in bag.table.rows if row.line == line), None)
    if row is None or bag.cell(row, "disc") != asked.text("disc"):
        raise InputError("The bag has changed meanwhile: look at the list again.")
    take_row(bag, line, row.cells)
    words = {name: cell for name, cell in _as_typed(bag, row).items() if cell}
    return Go(f"{asked.clutch.url}/bag?{urlencode({**words, 'out': asked.text('disc')})}")


ROUTES = [
    route("/c/{clutch}/bag", bag_page),
    route("/c/{clutch}/bag/add", add, writes=True),
    route("/c/{clutch}/bag/look", look, writes=True),
    route("/c/{clutch}/bag/remove", remove, writes=True),
]
