"""The charts of a set: load against travel, and how each stack differs from the mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer import text
from optimizer.estimate.learn import Learned
from optimizer.frozen import frozen_arrays
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.plan import Plan, PlanSet
from optimizer.report.chart import Chart, chart
from optimizer.report.facts import Curves, SetFacts, curves, differences, states_sd_n
from optimizer.report.figures import Figures
from optimizer.units import MM_PER_IN, N_PER_LBF

#: least travel in mm from work to worn: a doubt is looked up between them
APART_MM = 1e-6
#: travels of the table of differences, as shares of the way from rest to worn
SHARES = (0.25, 0.5, 0.75)


@dataclass(frozen=True)
@frozen_arrays
class Plots:
    """The charts, and the differences in figures: (travel, loads less the mean) in mm and N.

    `states` are loads and their doubt (S) at rest, at the travel and worn.

    Like stacks lie on each other in a chart of loads: it shows their mean, and of each stack how
    far it is off that, much enlarged.
    """

    loads: Chart
    states: tuple[tuple[str, Array, Array], ...]
    differences: tuple[Chart, ...]
    table: tuple[tuple[str, float, tuple[float, ...]], ...]


def plots(
    one: PlanSet, facts: SetFacts, plan: Plan, work: Workspace, learned: Learned | None = None
) -> Plots:
    """Draw up the charts of one set; `learned` is the state after the readings that made it."""
    apart = differences(facts, work.task)
    sd = states_sd_n(one, facts, work.task, learned)
    names = (("At rest", "rest"), ("At the travel", "working"), ("Worn", "worn"))
    return Plots(
        _loads(one, facts, plan, work),
        tuple(
            (name, np.array([getattr(s, f"{key}_load_n") for s in one.stacks]), sd[k])
            for k, (name, key) in enumerate(names)
        ),
        _differences(sd, plan, work, apart),
        _table(work, apart),
    )


def _loads(one: PlanSet, facts: SetFacts, plan: Plan, work: Workspace) -> Chart:
    task, units = work.task, plan.units
    drawn = curves(facts, task, task.worn_travel_mm)
    tolerance = plan.load_tolerance_n
    target = task.target_n
    top = 1.06 * max(float(drawn.load_n.max()), float(target.max()) + tolerance)
    work_n = np.array([stack.working_load_n for stack in one.stacks])
    said = "; ".join(
        f"shoe {stack.shoe} {text.load(stack.rest_load_n, units)} at rest, "
        f"{text.load(stack.working_load_n, units)} at the travel, "
        f"{text.load(stack.worn_load_n, units)} worn"
        for stack in one.stacks
    )
    alike = bool(np.ptp(target) == 0 and np.ptp(task.travel_mm) == 0)
    names = ["mean"] if alike else [f"Shoe {i + 1}" for i in range(task.shoes)]
    reach = 0.0 if alike else tolerance  # where targets differ each has its own bar
    if alike:
        drawn = Curves(*(v.mean(1, keepdims=True) for v in (drawn.travel_mm, drawn.load_n)))
        work_n, target = work_n.mean(keepdims=True), target[:1]
    points = [
        (travel, load, wanted - reach, wanted + reach)
        for travel, load, wanted in zip(task.travel_mm, work_n, target, strict=False)
    ]
    strip = (plan.target_load_n - tolerance, plan.target_load_n + tolerance, "target")
    return chart(
        "Load, mean of the set" if alike else "Load against travel",
        f"Rising curves: {said}. The target is "
        f"{text.load(plan.target_load_n, units)}, give or take {text.load(tolerance, units)}.",
        drawn.travel_mm,
        drawn.load_n,
        names,
        y_range=(0.0, top),
        band=strip if alike else None,
        bars=points,
        first=3 if alike else 1,
        **_axes("Load", plan, work),
    )


def _differences(sd_n: Array, plan: Plan, work: Workspace, apart: Curves) -> tuple[Chart, ...]:
    """Draw a chart a stack, all to one scale: the curve less the mean within its doubt."""
    half = plan.spread_tolerance_n / 2
    task, figures = work.task, Figures(plan.units)
    doubt = np.stack(
        [
            np.interp(
                apart.travel_mm[:, i],
                (0.0, task.travel_mm[i], max(task.worn_travel_mm[i], task.travel_mm[i] + APART_MM)),
                sd_n[:, i],
            )
            for i in range(task.shoes)
        ],
        axis=1,
    )
    doubt *= task.weight
    at_work = _at(apart, task.travel_mm)
    top = 1.1 * max(float((np.abs(apart.load_n) + doubt).max()), 1.1 * half)
    sd = sd_n[1] * task.weight
    return tuple(
        chart(
            f"Shoe {i + 1} less the mean",
            f"Its curve less the mean, much enlarged: at the travel "
            f"{figures.signed_load(at_work[i])} {figures.load_unit}, give or take "
            f"{figures.load(sd[i])}, one standard deviation, shaded. The strip is the tolerance of "
            f"{text.load(plan.spread_tolerance_n, plan.units)} between the largest and the "
            "smallest.",
            apart.travel_mm[:, i : i + 1],
            apart.load_n[:, i : i + 1],
            [f"shoe {i + 1}"],
            y_range=(-top, top),
            band=(-half, half, "tolerance"),
            bars=[(task.travel_mm[i], at_work[i], at_work[i], at_work[i])],
            reach=doubt[:, i : i + 1],
            first=3,
            **_axes("Difference", plan, work),
        )
        for i in range(task.shoes)
    )


def _axes(what: str, plan: Plan, work: Workspace) -> dict[str, Any]:
    """Return what the charts of a set share: names and units of the axes, and the travels."""
    figures, travels = Figures(plan.units), np.unique(work.task.travel_mm)
    name = "at the travel" if len(travels) == 1 else ""
    return {
        "axis_names": (f"Travel, {figures.length_unit}", f"{what}, {figures.load_unit}"),
        "units": (MM_PER_IN, N_PER_LBF) if plan.units == "in" else (1.0, 1.0),
        "uprights": [(float(travel), name) for travel in travels],
    }


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
