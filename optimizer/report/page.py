"""The build sheet: one self-contained HTML page of a plan.

What the hand needs of a set is one printed page; of a plan of one set a second page says what it
rests on, of many sets a first page lists them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import text
from optimizer.estimate.words import drawn_words
from optimizer.match.workspace import Workspace
from optimizer.model.plan import BEFORE, Plan, PlanSet
from optimizer.report.dots import dots
from optimizer.report.drawing import common_scale
from optimizer.report.facts import one_target, set_facts
from optimizer.report.inputs import inputs
from optimizer.report.lot import (
    MOST_DRAWN,
    Rule,
    common,
    differing,
    lot,
    lot_sets,
    rule,
)
from optimizer.report.plots import Plots, plots
from optimizer.report.shoe import Highlights, StackPage, sections, stack_pages

if TYPE_CHECKING:
    from jinja2 import Environment

    from optimizer.bench.step import Step
    from optimizer.report.decision import Decision

#: rounds of readings there is room for
ROUNDS = 3
#: a list of more rows than this is printed with less room between them
TALL = 12
#: sets that have a page each: some 45 kB
SETS_A_PAGE = 12


@dataclass(frozen=True)
class SetPage:
    """One set of the sheet."""

    number: int
    plan: PlanSet
    stacks: tuple[StackPage, ...]
    rule: Rule
    plots: Plots | None

    @property
    def tall(self) -> bool:
        """Whether the rows of a list are drawn closer, so that all fit the page."""
        return any(len(page.drawing.parts) > TALL for page in self.stacks)


def sheet(plan: Plan, work: Workspace, day: date, step: Step | None = None) -> str:
    """Write the build sheet of a few sets made from `work`, dated `day`, as one HTML page.

    `step` is what the bench decided, where the plan is its answer.
    """
    return rendered("sheet.html.j2", _context(plan, work, day, step))


def sheet_files(
    path: Path, plan: Plan, work: Workspace, day: date, step: Step | None = None
) -> dict[Path, str | bytes]:
    """Name the sheet `path`, and of many sets the labels of their bags, with -labels after it.

    The sheet of a lot of more than `SETS_A_PAGE` sets is a list of them all.
    """
    if len(plan.sets) == 1:
        return {path: sheet(plan, work, day, step)}
    sets = lot_sets(plan, work)
    labels = rendered("labels.html.j2", {**common(plan, work, day), "sets": sets})
    many = len(plan.sets) > SETS_A_PAGE
    return {
        path: rendered("lot.html.j2", lot(plan, work, day, sets))
        if many
        else sheet(plan, work, day, step),
        path.with_stem(f"{path.stem}-labels"): labels,
    }


def rendered(template: str, context: dict[str, Any]) -> str:
    """Fill a template of this room."""
    return _environment().get_template(template).render(context)


def environment(folder: Path) -> Environment:
    """Return what fills the templates of a folder: everything is escaped, nothing may lack."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters["percent"] = text.percent
    return env


@cache
def _environment() -> Environment:
    """Templates are read once a process."""
    env = environment(Path(__file__).parent)
    env.filters["disc"] = text.disc
    env.filters["css"] = css_string
    env.globals["dots"] = dots
    return env


def css_string(said: str) -> str:
    """Write text as it may stand between the quotes of a style sheet."""
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in said)


def _context(plan: Plan, work: Workspace, day: date, step: Step | None) -> dict[str, Any]:
    decision, learned = None, None
    if step is not None:
        from optimizer.report.decision import decided  # all of the bench, which few sheets need

        decision, learned = decided(step, work), step.learned
    shown = plan.sets
    facts = [set_facts(one, work) for one in shown]
    laid = [sections(one, each, work) for one, each in zip(shown, facts, strict=True)]
    scale = common_scale(section for group in laid for section in group)
    marks = Highlights() if decision is None else decision.marks
    drawn_of = differing(plan)[:MOST_DRAWN]
    sets = []
    for number, (one, each, group) in enumerate(zip(shown, facts, laid, strict=True), 1):
        stacks = stack_pages(one, each, group, scale, work, marks)
        alike = one_target(work.task) and one.spread_n <= plan.spread_tolerance_n
        # many sets are a page each: charts are of a single one, and of those that differ
        charted = len(shown) == 1 or number in drawn_of
        drawn = plots(one, each, plan, work, learned) if charted else None
        sets.append(
            SetPage(
                number,
                one,
                stacks,
                rule([page.check.likely_n for page in stacks], work.job, alike),
                drawn,
            )
        )
    return {
        **common(plan, work, day),
        "before": BEFORE,
        "sets": sets,
        "drawn": drawn_words(
            work.belief.names,
            [disc.cone_height_mm for disc in work.bag.discs],
            work.belief.cone_height_mm.tolist(),
            work.job.units,
        )
        if work.known is None
        else "",
        "decision": decision,
        "differing": differing(plan),
        "rounds": _rounds(decision, sets),
        "inputs": inputs(work.job),
    }


def _rounds(decision: Decision | None, sets: Sequence[SetPage]) -> range:
    """Rounds that are to be written down, those on the bench counted on; fewer of tall stacks."""
    most = ROUNDS - any(one.tall for one in sets)
    if decision is None:
        return range(1, most + 1)
    return range(decision.round + 1, decision.round + most)
