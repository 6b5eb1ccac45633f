"""The build sheet: one self-contained HTML page of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from optimizer import text
from optimizer.match.workspace import Workspace
from optimizer.model.bag import Disc
from optimizer.model.plan import BEFORE, Plan, PlanSet, PlanStack
from optimizer.report.drawing import Drawing, common_scale, draw
from optimizer.report.facts import NINETEEN_OF_TWENTY, SetFacts, set_facts
from optimizer.report.figures import Figures
from optimizer.report.inputs import inputs
from optimizer.report.plots import Plots, plots
from optimizer.report.section import StackSection, stack_section

#: rounds of readings there is room for
ROUNDS = 3
#: more discs left than this are listed by name alone, or folded away where they fill pages
LISTED, NAMED = 45, 400
#: sets of one page: some 45 kB each
SETS_A_PAGE = 12
#: more warnings than this are folded away
WARNED = 8


@dataclass(frozen=True)
class Place:
    """One line of the order of assembly: a disc, its packet and its facing."""

    disc: Disc
    packet: int
    nested: int
    first: bool
    outer_down: bool


@dataclass(frozen=True)
class StackPage:
    """One shoe of the sheet.

    `edges` is the edge all its discs have, None where they differ; `likely_n` holds 19 of
    20 settled readings; `pressed_mm` is the height at the travel, None where that is
    counted from a seating load.
    """

    plan: PlanStack
    drawing: Drawing
    places: tuple[Place, ...]
    edges: str | None
    loads: tuple[tuple[str, float, float], ...]
    likely_n: tuple[float, float]
    travel_mm: float
    pressed_mm: float | None


@dataclass(frozen=True)
class SetPage:
    """One set of the sheet."""

    number: int
    plan: PlanSet
    stacks: tuple[StackPage, ...]
    plots: Plots


def sheets(plan: Plan, work: Workspace, day: date) -> list[str]:
    """Write the build sheets of a plan made from `work`, dated `day`, as HTML pages.

    One page, or several where the plan has so many sets that one would pass a megabyte.
    """
    starts = range(0, len(plan.sets), SETS_A_PAGE)
    return [_sheet(plan, slice(start, start + SETS_A_PAGE), work, day) for start in starts]


def sheet_files(path: Path, plan: Plan, work: Workspace, day: date) -> dict[Path, str | bytes]:
    """Name the files of the build sheets: `path`, then `path` with -2, -3 ... before its suffix."""
    pages = sheets(plan, work, day)
    return {
        path if not number else path.with_stem(f"{path.stem}-{number + 1}"): page
        for number, page in enumerate(pages)
    }


def _sheet(plan: Plan, part: slice, work: Workspace, day: date) -> str:
    return rendered("sheet.html.j2", _context(plan, part, work, day))


def rendered(template: str, context: dict[str, Any]) -> str:
    """Fill a template of this room."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["share"] = text.share
    return env.get_template(template).render(context)


def _context(plan: Plan, part: slice, work: Workspace, day: date) -> dict[str, Any]:
    shown = plan.sets[part]
    facts = [set_facts(one, work) for one in shown]
    sections = [_sections(one, each, work) for one, each in zip(shown, facts, strict=True)]
    scale = common_scale(section for group in sections for section in group)
    by_name = {disc.name: disc for disc in work.bag.discs}
    sets = tuple(
        SetPage(
            number,
            one,
            _stack_pages(one, each, group, scale, work),
            plots(one, each, plan, work),
        )
        for number, (one, each, group) in enumerate(
            zip(shown, facts, sections, strict=True), part.start + 1
        )
    )
    return {
        "plan": plan,
        "before": BEFORE,
        "job": work.job,
        "bag": work.bag,
        "sets": sets,
        "left": [by_name[name] for name in plan.unused],
        "listed": LISTED,
        "named": NAMED,
        "warned": WARNED,
        "rounds": range(1, ROUNDS + 1),
        "f": Figures(plan.units),
        "say": text,
        "inputs": inputs(work.job),
        "day": day.isoformat(),
        "alike": work.task.alike,
    }


def _sections(one: PlanSet, facts: SetFacts, work: Workspace) -> list[StackSection]:
    height = facts.packets.height_mm + facts.packets.free_mm
    return [
        stack_section(work.task.discs, stack, height[i], one.stacks[i].shims_mm)
        for i, stack in enumerate(facts.stacks)
    ]


def _stack_pages(
    one: PlanSet,
    facts: SetFacts,
    sections: Sequence[StackSection],
    scale: float,
    work: Workspace,
) -> tuple[StackPage, ...]:
    job, units = work.job, work.job.units
    pages = []
    for i, stack in enumerate(one.stacks):
        shims = [f"shim {Figures(units).length(s)}" for s in stack.shims_mm]
        shoe = job.shoes[i]
        room = job.datum.installed_length_mm
        places = _places(facts.stacks[i], work.bag.discs)
        edges = {place.disc.edge for place in places}
        reach = NINETEEN_OF_TWENTY * float(facts.reading_sd_n[i])
        pages.append(
            StackPage(
                stack,
                draw(sections[i], work.belief.names, scale, units, shims),
                places,
                edges.pop() if len(edges) == 1 else None,
                (
                    ("At rest", stack.rest_load_n, float(facts.sd_n[0, i])),
                    ("At the travel", stack.working_load_n, float(facts.sd_n[1, i])),
                    ("Worn", stack.worn_load_n, float(facts.sd_n[2, i])),
                ),
                (stack.working_load_n - reach, stack.working_load_n + reach),
                shoe.travel_mm,
                None if room is None else room + shoe.seat_depth_mm - shoe.travel_mm,
            )
        )
    return tuple(pages)


def _places(stack: Sequence[Sequence[int]], discs: Sequence[Disc]) -> tuple[Place, ...]:
    return tuple(
        Place(discs[disc], number + 1, len(packet), rank == 0, number % 2 == 0)
        for number, packet in enumerate(stack)
        for rank, disc in enumerate(packet)
    )
