"""Setting up a clutch without an editor: a form that changes its commented job file in place."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from optimizer.errors import EvenstackError, InputError, Place, Problem
from optimizer.face.sources import read_job
from optimizer.io.files import write_all_new, write_atomic
from optimizer.io.job.templates import job_template, readings_template
from optimizer.io.launcher import launcher
from optimizer.io.text import read_text
from optimizer.model.job import Units
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route
from optimizer.page.bag_file import empty_bag
from optimizer.page.folder import JOB, THIS, new_clutch_folder
from optimizer.page.job_form import EVERY, GROUPS, shown, spoken_unit, toml_of, unit_of
from optimizer.page.job_text import with_values
from optimizer.page.outlooks import outlook_words


def form_page(asked: PageRequest) -> Answer:
    """Show what the job says."""
    text = read_text(asked.clutch.job, "job")
    return _page(asked, text, {}, [])


def _page(
    asked: PageRequest,
    text: str,
    typed: dict[str, str],
    problems: list[str],
    clashes: list[tuple[str, str, str]] | None = None,
    status: int = 200,
) -> Page:
    clutch = asked.clutch
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        read_job(clutch.job)  # says where and what
        raise
    units: Units = "in" if _is_inch(document) else "mm"
    groups = [
        (
            title,
            [
                (
                    asking,
                    typed.get(asking.field, shown(document, asking)),
                    unit_of(document, asking, units),
                    asking.usual[units == "in"],
                )
                for asking in group
            ],
        )
        for title, group in GROUPS
    ]
    if not problems and not typed:
        try:
            read_job(clutch.job)
        except EvenstackError as error:
            problems = error.lines()
    context = {
        **frame(asked.house, clutch),
        "step": "clutch",
        "groups": groups,
        "problems": problems,
        "clashes": clashes or [],
        "was": {asking.field: shown(document, asking) for asking in EVERY},
        "saved": asked.query.get("saved") == "1",
        "fresh": asked.query.get("new") == "1",
        "outlook": () if problems else outlook_words(asked.house, clutch),
        "own_shoes": bool(document.get("clutch", {}).get("shoe")),
    }
    return Page("clutch", context, status)


def _is_inch(document: dict[str, Any]) -> bool:
    said = document.get("units")
    if said in ("mm", "in"):
        return bool(said == "in")
    clutch = document.get("clutch", {})
    return isinstance(clutch, dict) and "travel_in" in clutch


def save(asked: PageRequest) -> Answer:
    """Write what was changed into the job, unless somebody else changed the same meanwhile."""
    job = asked.clutch.job
    text = read_text(job, "job")
    document = tomllib.loads(text)
    units: Units = "in" if _is_inch(document) else "mm"
    typed = {a.field: asked.text(a.field, 200) for a in EVERY if a.field in asked.fields}
    was = {a.field: asked.text(f"was.{a.field}", 200) for a in EVERY}
    changed = [a for a in EVERY if a.field in typed and typed[a.field] != was[a.field]]
    clashes = [
        (a.title, typed[a.field], shown(document, a))
        for a in changed
        if shown(document, a) not in (was[a.field], typed[a.field])
    ]
    if clashes and not asked.text("mine"):
        return _page(asked, text, typed, [], clashes, 409)
    try:
        values = {
            (a.section, a.name): (a.key.spelled(units), toml_of(a, typed[a.field])) for a in changed
        }
        after = with_values(text, values)
        _check(job, after)
    except EvenstackError as error:
        return _page(asked, text, typed, _beside(error).lines(), status=422)
    if after != text:
        write_atomic(job, after)
    return Go(f"{asked.clutch.url}/clutch?saved=1")


def _beside(error: EvenstackError) -> EvenstackError:
    """Name the fields of the form where a problem names a key of a file that was not written."""
    titles = {
        f"[{a.section}] {key}": ", ".join(filter(None, (a.title, spoken_unit(a, key))))
        for a in EVERY
        for key in map(a.key.spelled, ("mm", "in"))
    }

    def beside(problem: Problem) -> Problem:
        where = problem.where
        if not isinstance(where, Place):
            return problem
        return replace(problem, where=titles.get(where.of, where.of))

    return InputError(*map(beside, error.problems))


def _check(job: Path, text: str) -> None:
    """Refuse a job that no command would read."""
    with TemporaryDirectory() as place:
        trial = Path(place) / job.name
        trial.write_text(text, encoding="utf-8")
        read_job(trial)


def new_page(asked: PageRequest) -> Answer:
    """Ask for the name of a new clutch."""
    return Page("new", {**frame(asked.house), "typed": {}, "problems": []})


def make(asked: PageRequest) -> Answer:
    """Make the folder of a new clutch: the files that `evenstack init` makes, without its discs."""
    typed = {name: asked.text(name, 60) for name in ("name", "units", "height")}
    if THIS in asked.house.folder.clutches():
        raise InputError("This folder is a clutch itself: open the one above it to make another.")
    units: Units = "in" if typed["units"] == "in" else "mm"
    height = "cone_height" if typed["height"] == "cone_height" else "height"
    try:
        place = new_clutch_folder(asked.house.folder, typed["name"])
        name, script = launcher()
        write_all_new(
            {
                place / name: script,
                place / JOB: job_template(units),
                place / "bag.csv": empty_bag(units, height),
                place / "readings.csv": readings_template(units),
            }
        )
    except EvenstackError as error:
        context = {**frame(asked.house), "typed": typed, "problems": error.lines()}
        return Page("new", context, 422)
    return Go(f"{asked.house.folder.clutch(place.name).url}/clutch?new=1")


ROUTES = [
    route("/new", new_page),
    route("/new", make, writes=True),
    route("/c/{clutch}/clutch", form_page),
    route("/c/{clutch}/clutch", save, writes=True),
]
