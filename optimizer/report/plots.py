"""The two charts of a set: load against travel, and how the stacks differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.plan import Plan, PlanSet
from optimizer.report.chart import Chart, chart
from optimizer.report.facts import Curves, SetFacts, curves, differences
from optimizer.report.figures import Figures
from optimizer.units import MM_PER_IN, N_PER_LBF

#: travels of the table of differences, as shares of the way from rest to worn
SHARES = (0.25, 0.5, 0.75)


@dataclass(frozen=True)
class Plots:
    """Both charts and the differences in figures: (travel, loads less the mean) in mm and N."""

    loads: Chart
    differences: Chart
    table: tuple[tuple[str, float, tuple[float, ...]], ...]


def plots(one: PlanSet, facts: SetFacts, plan: Plan, work: Workspace) -> Plots:
    """Draw up the charts of one set."""
    apart = differences(facts, work.task)
    return Plots(
        _loads(one, facts, plan, work), _differences(facts, plan, work, apart), _table(work, apart)
    )


def _loads(one: PlanSet, facts: SetFacts, plan: Plan, work: Workspace) -> Chart:
    task, units = work.task, plan.units
    drawn = curves(facts, task, task.worn_travel_mm)
    tolerance = plan.load_tolerance_n
    target = task.target_n
    top = 1.06 * max(float(drawn.load_n.max()), float(target.max()) + tolerance)
    alike = bool(np.ptp(target) == 0)
    work_n = np.array([stack.working_load_n for stack in one.stacks])
    reach = 0.0 if alike else tolerance  # where targets differ each has its own bar
    points = [
        (travel, load, wanted - reach, wanted + reach)
        for travel, load, wanted in zip(task.travel_mm, work_n, target, strict=True)
    ]
    said = "; ".join(
        f"shoe {stack.shoe} {text.load(stack.rest_load_n, units)} at rest, "
        f"{text.load(stack.working_load_n, units)} at the travel, "
        f"{text.load(stack.worn_load_n, units)} worn"
        for stack in one.stacks
    )
    return _chart(
        "Load against travel",
        f"Rising curves, one a stack: {said}. The target is "
        f"{text.load(plan.target_load_n, units)}, give or take {text.load(tolerance, units)}.",
        drawn,
        plan,
        work,
        (0.0, top),
        (plan.target_load_n - tolerance, plan.target_load_n + tolerance, "target")
        if alike
        else None,
        points,
        "Load",
    )


def _differences(facts: SetFacts, plan: Plan, work: Workspace, apart: Curves) -> Chart:
    half = plan.spread_tolerance_n / 2
    sd = facts.sd_n[1]
    furthest = float(np.abs(apart.load_n).max())
    at_work = _at(apart, work.task.travel_mm)
    reach = 1.15 * max(furthest, 1.1 * half, float((np.abs(at_work) + sd).max()))
    said = "; ".join(
        f"shoe {i + 1} {Figures(plan.units).signed_load(load)}" for i, load in enumerate(at_work)
    )
    unit = Figures(plan.units).load_unit
    return _chart(
        "Difference from the mean of the set",
        f"The same curves less their mean, much enlarged. At the travel, in {unit}: {said}. "
        f"The shaded strip is the tolerance of {text.load(plan.spread_tolerance_n, plan.units)} "
        "between the largest and the smallest; the bars are one standard deviation of doubt.",
        apart,
        plan,
        work,
        (-reach, reach),
        (-half, half, "tolerance"),
        list(zip(work.task.travel_mm, at_work, at_work - sd, at_work + sd, strict=True)),
        "Difference",
    )


def _chart(
    title: str,
    description: str,
    drawn: Curves,
    plan: Plan,
    work: Workspace,
    y_range: tuple[float, float],
    band: tuple[float, float, str] | None,
    bars: list[tuple[float, float, float, float]],
    what: str,
) -> Chart:
    """Lay out a chart in the user's units from values in mm and N."""
    figures = Figures(plan.units)
    long, strong = (MM_PER_IN, N_PER_LBF) if plan.units == "in" else (1.0, 1.0)
    travels = np.unique(work.task.travel_mm)
    return chart(
        title,
        description,
        drawn.travel_mm / long,
        drawn.load_n / strong,
        [f"Shoe {i + 1}" for i in range(work.task.shoes)],
        (f"Travel, {figures.length_unit}", f"{what}, {figures.load_unit}"),
        (y_range[0] / strong, y_range[1] / strong),
        None if band is None else (band[0] / strong, band[1] / strong, band[2]),
        [
            (float(travel) / long, "at the travel" if len(travels) == 1 else "")
            for travel in travels
        ],
        [(x / long, y / strong, low / strong, high / strong) for x, y, low, high in bars],
    )


def _table(work: Workspace, apart: Curves) -> tuple[tuple[str, float, tuple[float, ...]], ...]:
    """Differences at rest, on the way, at the mean travel and worn."""
    end = float(apart.travel_mm[-1, 0])
    travel = float(work.task.travel_mm.mean())
    places = [("at rest", 0.0)]
    places += [("", share * travel) for share in SHARES]
    places += [("working", travel), ("worn", end)]
    shoes = work.task.shoes
    return tuple(
        (name, at, tuple(float(v) for v in _at(apart, np.full(shoes, at)))) for name, at in places
    )


def _at(apart: Curves, travel_mm: Array) -> Array:
    """Difference of each stack (S) at its travel (S), between the computed points."""
    return np.array(
        [
            np.interp(travel, apart.travel_mm[:, i], apart.load_n[:, i])
            for i, travel in enumerate(travel_mm)
        ]
    )
