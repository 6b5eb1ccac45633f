"""Many sets: a list of all, labels for their bags, and charts of those alone that differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from optimizer import text
from optimizer.match.workspace import Workspace
from optimizer.model.job import Job
from optimizer.model.plan import Plan, PlanSet
from optimizer.report.drawing import common_scale
from optimizer.report.facts import one_target, set_facts
from optimizer.report.figures import Figures
from optimizer.report.inputs import inputs
from optimizer.report.plots import Plots, plots
from optimizer.report.shoe import Check, Highlights, StackPage, checks, sections, stack_pages
from optimizer.report.trade import trade_chart, trade_words

#: more discs left than this are listed by name alone, or folded away where they fill pages
LISTED, NAMED = 45, 400
#: more warnings than this are folded away
WARNED = 8
#: sets that differ whose charts are drawn
MOST_DRAWN = 6


@dataclass(frozen=True)
class LotSet:
    """One set of a lot: what caliper and gauge should say of each stack; charts if it differs."""

    number: int
    plan: PlanSet
    checks: tuple[Check, ...]
    plots: Plots | None = None


def common(plan: Plan, work: Workspace, day: date) -> dict[str, Any]:
    """Return what every page about a plan is filled with."""
    by_name = {disc.name: disc for disc in work.bag.discs}
    return {
        "plan": plan,
        "job": work.job,
        "titled": named(work.job.path),
        "bag": work.bag,
        "left": [by_name[name] for name in plan.unused],
        "listed": LISTED,
        "named": NAMED,
        "warned": WARNED,
        "f": Figures(plan.units),
        "say": text,
        "day": day.isoformat(),
        "one_target": one_target(work.task),
        "trade": trade_chart(plan),
        "trade_words": trade_words(plan),
    }


@dataclass(frozen=True)
class Rule:
    """What the gauge should read at the travel, all shoes together, and how far it is pressed.

    Each is None where every shoe has its own.
    """

    likely_n: tuple[float, float] | None
    pressed_mm: float | None
    travel_mm: float | None


def rule(likely_n: Sequence[tuple[float, float]], job: Job, alike: bool) -> Rule:
    """Write the rule of stacks that should read so; `alike`: as one they are within tolerance."""
    lows, highs = zip(*likely_n, strict=True)
    pressed, travels = set(job.pressed_mm or ()), {shoe.travel_mm for shoe in job.shoes}
    return Rule(
        (min(lows), max(highs)) if alike else None,
        pressed.pop() if len(pressed) == 1 else None,
        travels.pop() if len(travels) == 1 else None,
    )


def named(path: Path) -> str:
    """Name a job: most are called job.toml, their folders are not."""
    return str(Path(path.parent.name, path.name))


def differing(plan: Plan) -> list[int]:
    """Return the numbers of the sets whose stacks are told apart at rest, at the travel or worn."""
    return [
        number
        for number, one in enumerate(plan.sets, 1)
        if max(one.rest_spread_n, one.spread_n, one.worn_spread_n) > plan.spread_tolerance_n
    ]


def lot_sets(plan: Plan, work: Workspace) -> list[LotSet]:
    """Return the sets of a lot for its list and its labels."""
    drawn = differing(plan)[:MOST_DRAWN]
    sets = []
    for number, one in enumerate(plan.sets, 1):
        facts = set_facts(one, work)
        charts = plots(one, facts, plan, work) if number in drawn else None
        sets.append(LotSet(number, one, tuple(checks(one, facts, work)), charts))
    return sets


def lot(plan: Plan, work: Workspace, day: date, sets: Sequence[LotSet]) -> dict[str, Any]:
    """Return what the list of a lot is filled with; its first stack is drawn for all."""
    likely_n = [check.likely_n for one in sets for check in one.checks]
    return {
        **common(plan, work, day),
        "sets": sets,
        "rule": rule(likely_n, work.job, one_target(work.task)),
        "differing": differing(plan),
        "first": _first(plan, work),
        "inputs": inputs(work.job),
    }


def _first(plan: Plan, work: Workspace) -> StackPage:
    one = plan.sets[0]
    facts = set_facts(one, work)
    laid = sections(one, facts, work)
    return stack_pages(one, facts, laid, common_scale(laid), work, Highlights())[0]
