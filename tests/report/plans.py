"""Plans for the sheet's tests: dealt, not solved, so that they are quick; data invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np

from optimizer.estimate.prior import believe
from optimizer.estimate.problem import pose
from optimizer.match.plan import plan as write_plan
from optimizer.match.result import exact
from optimizer.match.solve import Matched
from optimizer.match.workspace import Workspace
from optimizer.mechanics.packet import nesting_order
from optimizer.model.bag import Bag
from optimizer.model.job import Units
from optimizer.model.plan import Plan
from tests.bags import plain_job, seeded_bag

DAY = date(2026, 1, 31)
#: names and notes that would do harm if a page or a workbook took them at their word
WICKED = ("<script>alert(1)</script>", "=1+1", "@SUM(A1)", "-2", "'\"&amp;<b>", "a" * 60)


@cache
def dealt(
    pairs: int = 1,
    singles: int = 6,
    shoes: int = 3,
    spare: int = 6,
    units: Units = "mm",
    installed_mm: float | None = None,
    shims_mm: tuple[float, ...] = (),
    wicked: bool = False,
    sets: int = 1,
) -> tuple[Plan, Workspace]:
    """Deal the first discs of a bag to stacks of `pairs` and then `singles`."""
    a_stack = 2 * pairs + singles
    bag = seeded_bag(sets * shoes * a_stack + spare, seed=5)
    discs = tuple(replace(d, flat_mm=0.15 if d.edge == "dressed" else 0.0) for d in bag.discs)
    warnings: tuple[str, ...] = ()
    if wicked:
        named = tuple(
            replace(d, name=name, note=name) for d, name in zip(discs, WICKED, strict=False)
        )
        discs = named + discs[len(named) :]
        warnings = (f"bag.csv line 2, disc {WICKED[0]}: looks odd.",)
    bag = Bag(bag.path, discs, warnings)
    job = replace(plain_job(shoes=shoes, installed_mm=installed_mm), units=units)
    belief = believe(bag, job)
    task = pose(belief, job, np.full(shoes, job.target.load_n))
    cone = belief.cone_height_mm
    stacks = []
    for start in range(0, sets * shoes * a_stack, a_stack):
        hand = list(range(start, start + a_stack))
        nested = [hand[2 * k : 2 * k + 2] for k in range(pairs)]
        packets = [[pair[i] for i in nesting_order(cone[pair])] + [-1] for pair in nested]
        stacks.append([*packets, *([disc, -1, -1] for disc in hand[2 * pairs :])])
    matched = tuple(
        Matched(
            exact(task, np.array(stacks[k : k + shoes]), (shims_mm,) * shoes, 0.0),
            False, 0.0, None, (),
        )
        for k in range(0, len(stacks), shoes)
    )  # fmt: skip
    plan = write_plan(job, task, matched, warnings, 7, None)
    return plan, Workspace(job, bag, belief, task)


def disc_names(plan: Plan) -> list[str]:
    """Every disc of the plan, those left in the bag too."""
    used = [d for one in plan.sets for s in one.stacks for p in s.packets for d in p]
    return used + list(plan.unused)
