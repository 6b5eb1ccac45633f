"""How a clutch takes hold now: of a plan's stacks, of given loads or of the job's target."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.clutch.drift import Drift, Tolerance, drifts
from optimizer.clutch.engagement import (
    Hookup,
    Springs,
    first_movement_rpm,
    hookup,
    rpm_per_newton,
    speed_rpm,
)
from optimizer.clutch.running import (
    Running,
    modulus_share,
    release_share,
    stack_mass_g,
    stack_pull_kgm,
)
from optimizer.clutch.shoes import Shoes, linings_of, shoes_of
from optimizer.clutch.torque import Torque, speeds_around, torque
from optimizer.clutch.wear import LINING_SHARE_PER_MM
from optimizer.errors import InputError, Problem
from optimizer.estimate.problem import Task, members_of
from optimizer.io.documents import read_plan
from optimizer.match.plan import plan_stacks
from optimizer.match.result import Assigned, exact
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import packets
from optimizer.model.job import Job
from optimizer.model.plan import PlanSet, set_of
from optimizer.units import MM_PER_IN

#: wear tabulated, in steps of the unit that the user reads
STEPS = np.arange(1.0, 6.0)
STEP_MM = {"mm": 0.1, "in": 0.1016}


@dataclass(frozen=True)
class Engagement:
    """What `engage` shows. `rest_n` and `moves_rpm` (S) are None where the load at rest is
    not known, `torque` where the job gives no drum radius and friction; `drifts` is empty
    where only loads are known and not the stacks that give them. `bare_rpm` is the mean
    engagement speed but for the springs' own mass, which `hookup` counts where it is known;
    `hot_rpm` and `release_rpm` are means, None where they are not known."""

    source: str
    hookup: Hookup
    rest_n: Array | None
    moves_rpm: Array | None
    torque: Torque | None
    tolerance: Tolerance
    drifts: tuple[Drift, ...]
    running: Running
    bare_rpm: float
    hot_rpm: float | None
    release_rpm: float | None


def _per_length(units: str) -> str:
    if units == "in":
        return f"{LINING_SHARE_PER_MM * MM_PER_IN / 100:.2%} of its mass per hundredth of an inch"
    return f"{LINING_SHARE_PER_MM:.1%} of its mass per mm"


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
            f"a shoe is assumed to lose {_per_length(job.units)} of lining; "
            "weigh one and give --lining-g-per-mm."
        )
    return tuple(said)


@dataclass(frozen=True)
class Today:
    """The stacks in the clutch: where they are known from, and their loads (S) at the travel.

    `sd_n` is the doubt beside what all stacks share; `load_n` differs from that of `stacks`, as
    the discs are believed, where readings told how the stacks were put together.
    """

    source: str
    stacks: Assigned
    load_n: Array
    sd_n: Array


def today(work: Workspace, plan: Path | None, number: int) -> Today | None:
    """Return the stacks of a plan, or else those that the bench left standing, if any.

    Their loads are computed anew from the discs as they are believed now.

    Raises
    ------
    InputError
        when the plan is of another bag or of another number of shoes.
    """
    known = work.known
    if plan is not None:
        one = set_of(read_plan(plan), number, str(plan))
        stacks = planned(work.task, one, str(plan))
        source = str(plan)
    elif known is not None and known.stands:
        stacks = exact(work.task, work.task.numbered(known.stacks), known.shims_mm, 0.0)
        source = "what stands"
    else:
        return None
    if known is None or not known.records:
        sd = np.array([stack.working_load_sd_n for stack in plan_stacks(work.task, stacks)])
        return Today(source, stacks, stacks.work_n, sd)
    believed = known.loads(work.task.named(stacks.stacks), stacks.shims)
    return Today(
        f"{source}, as the readings of the bench tell it",
        stacks,
        believed.mean_n,
        sd_apart(believed.covariance_n2, believed.mean_n),
    )


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
    known = set(task.belief.names)
    named = [name for stack in one.stacks for packet in stack.packets for name in packet]
    if unknown := [name for name in named if name not in known]:
        raise InputError(Problem(f"names {', '.join(unknown)}, not in the bag.", where, remedy))
    stacks = task.numbered(stack.packets for stack in one.stacks)
    found = exact(task, stacks, tuple(stack.shims_mm for stack in one.stacks), 0.0)
    if found.work_n.min() <= 0:
        raise InputError(
            Problem(
                f"The stack of shoe {int(found.work_n.argmin()) + 1} does not press at the travel "
                "of this job.",
                where,
                "The plan was made for another travel or installed_length: match anew.",
            )
        )
    return found


def sd_apart(covariance_n2: Array, load_n: Array) -> Array:
    """Standard deviations (S) of loads (S) beside what they share, from their covariance (S, S).

    What they share, the load factor above all, is in proportion to the loads: it is the mean
    relative covariance of two of them.
    """
    relative = covariance_n2 / np.outer(load_n, load_n)
    own = np.diag(relative)
    shared = (relative.sum() - own.sum()) / max(len(own) * (len(own) - 1), 1)
    sd: Array = load_n * np.sqrt(np.maximum(own - max(shared, 0.0), 0.0))
    return sd


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
    bare = shoes.contact_pull_kgm
    running = _running(task, job, stacks)
    pull = bare if running.stack_pull_kgm is None else bare + running.stack_pull_kgm
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
        running=running,
        bare_rpm=float(speed_rpm(bare, work_n).mean()),
        hot_rpm=_mean_rpm(pull, work_n, running.hot_share),
        release_rpm=_mean_rpm(pull, work_n, running.release_share),
    )


def _mean_rpm(pull_kgm: Array, work_n: Array, share: Array | float | None) -> float | None:
    return None if share is None else float(speed_rpm(pull_kgm, work_n * share).mean())


def _running(task: Task, job: Job, stacks: Assigned | None) -> Running:
    """What is known of heat, friction on the way back and the stacks' own mass."""
    hot = job.disc.hot_c
    found = Running(hot_c=hot, hot_share=None if hot is None else modulus_share(hot))
    if stacks is None:
        return found
    members, shims = members_of(stacks.stacks), np.array([sum(s) for s in stacks.shims])
    if job.friction.edge or job.friction.between:
        share = release_share(task.discs, members, task.model, task.datum, task.travel_mm, shims)
        found = replace(found, release_share=share)
    radius = [shoe.stack_radius_mm for shoe in job.shoes]
    if None in radius:
        return found
    mass = stack_mass_g(task.discs, members)
    length = packets(task.discs, members, task.model).height_mm.sum(1)
    pull = stack_pull_kgm(mass, np.array(radius, dtype=np.float64), length)
    return replace(found, stack_mass_g=mass, stack_pull_kgm=pull)


def _rest_load(task: Task, work_n: Array, stacks: Assigned | None) -> Array | None:
    if not task.datum.has_room:
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
