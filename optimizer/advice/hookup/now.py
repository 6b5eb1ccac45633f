"""How a clutch takes hold now: of a plan's stacks, of given loads or of the job's target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.assignment.problem import Task
from optimizer.assignment.result import Assigned, exact, members_of
from optimizer.clutch.drift import Drift, Tolerance, drifts
from optimizer.clutch.engagement import (
    Hookup,
    Springs,
    first_movement_rpm,
    hookup,
    rpm_per_newton,
    speed_rpm,
)
from optimizer.clutch.shoes import Shoes, linings_of, shoes_of
from optimizer.clutch.torque import Torque, speeds_around, torque
from optimizer.clutch.wear import LINING_SHARE_PER_MM
from optimizer.errors import InputError, Problem
from optimizer.job.model import Job
from optimizer.physics.disc import Array
from optimizer.physics.packet import packets
from optimizer.physics.stack import Seating
from optimizer.plan.document import Plan, PlanSet

#: wear tabulated, in steps of the unit that the user reads
STEPS = np.arange(1.0, 6.0)
STEP_MM = {"mm": 0.1, "in": 0.1016}


@dataclass(frozen=True)
class Engagement:
    """What `engage` shows. `rest_n` and `moves_rpm` (S) are None where the load at rest is
    not known, `torque` where the job gives no drum radius and friction; `drifts` is empty
    where only loads are known and not the stacks that give them."""

    source: str
    hookup: Hookup
    rest_n: Array | None
    moves_rpm: Array | None
    torque: Torque | None
    tolerance: Tolerance
    drifts: tuple[Drift, ...]


def remarks(job: Job, lining_assumed: bool) -> tuple[str, ...]:
    """What to know of the numbers: where the load at rest and the lining's mass come from."""
    said = []
    if job.datum.seating_load_n is not None:
        said.append(
            "the load at rest is the seating load of the bench; if the clutch holds its stacks "
            "tighter than that, its shoes move later, and touch later too."
        )
    if lining_assumed:
        said.append(
            f"a shoe is assumed to lose {LINING_SHARE_PER_MM:.1%} of its mass per mm of lining; "
            "weigh one and give --lining-g-per-mm."
        )
    return tuple(said)


def set_of(plan: Plan, number: int, where: str) -> PlanSet:
    """Return set `number` (from 1) of a plan.

    Raises
    ------
    InputError
        when the plan has no such set.
    """
    if not 1 <= number <= len(plan.sets):
        raise InputError(
            Problem(
                f"Expected a set from 1 to {len(plan.sets)}, got {number}.", where, "Correct --set."
            )
        )
    return plan.sets[number - 1]


def planned(task: Task, one: PlanSet, where: str) -> Assigned:
    """Return the stacks of a plan, computed anew from the discs of the bag.

    Raises
    ------
    InputError
        when the plan is of another bag or of another number of shoes.
    """
    remedy = "Give the job that the plan was made from, or match anew."
    if len(one.stacks) != task.shoes:
        raise InputError(
            Problem(f"Expected {task.shoes} stacks, got {len(one.stacks)}.", where, remedy)
        )
    number = {name: i for i, name in enumerate(task.belief.names)}
    named = [name for stack in one.stacks for packet in stack.packets for name in packet]
    if unknown := [name for name in named if name not in number]:
        raise InputError(Problem(f"names {', '.join(unknown)}, not in the bag.", where, remedy))
    stacks = tuple(
        tuple(tuple(number[name] for name in packet) for packet in stack.packets)
        for stack in one.stacks
    )
    return exact(task, stacks, tuple(stack.shims_mm for stack in one.stacks), 0.0)


def tolerance_of(task: Task, job: Job, contact_pull_kgm: Array) -> Tolerance:
    """Tolerances of the job, which are loads, as speeds."""
    at = speed_rpm(contact_pull_kgm, task.target_n)
    per_newton = float(rpm_per_newton(at, task.target_n).mean())
    return Tolerance(
        float(at.mean()),
        per_newton * task.load_tolerance_n,
        per_newton * job.target.spread_tolerance_n,
    )


def engagement(
    task: Task,
    job: Job,
    source: str,
    work_n: Array,
    sd_n: Array | None,
    stacks: Assigned | None,
    lining_g_per_mm: Array,
) -> Engagement:
    """Work out how the clutch takes hold.

    Parameters
    ----------
    work_n, sd_n : loads (S) at the travel and their sds, predicted or measured
    stacks : what carries them, where known; its curve is scaled to the loads
    lining_g_per_mm : mass (S) that a shoe loses per mm of lining

    Raises
    ------
    InputError
        when the job lacks masses or radii of the shoes.
    """
    shoes = shoes_of(job)
    pull = shoes.contact_pull_kgm
    how = hookup(pull, work_n, sd_n)
    tolerance = tolerance_of(task, job, pull)
    rest = _rest_load(task, work_n, stacks)
    linings = linings_of(job)
    return Engagement(
        source=source,
        hookup=how,
        rest_n=rest,
        moves_rpm=None if rest is None else first_movement_rpm(shoes, rest),
        torque=None
        if linings is None
        else torque(pull, linings, work_n, speeds_around(how.touch_rpm)),
        tolerance=tolerance,
        drifts=()
        if stacks is None
        else _drifts(task, job, shoes, work_n, stacks, lining_g_per_mm, tolerance),
    )


def _rest_load(task: Task, work_n: Array, stacks: Assigned | None) -> Array | None:
    if isinstance(task.datum, Seating):
        return np.full(task.shoes, task.datum.load_n)
    return None if stacks is None else stacks.rest_n * work_n / stacks.work_n


def _drifts(
    task: Task,
    job: Job,
    shoes: Shoes,
    work_n: Array,
    stacks: Assigned,
    lining_g_per_mm: Array,
    tolerance: Tolerance,
) -> tuple[Drift, ...]:
    springs = Springs(
        packets(task.discs, members_of(stacks.stacks), task.model),
        task.datum,
        np.array([sum(shims) for shims in stacks.shims]),
        work_n / stacks.work_n,
    )
    return drifts(springs, shoes, lining_g_per_mm, STEPS * STEP_MM[job.units], tolerance)
