"""How a clutch takes hold now: of a plan's stacks, of given loads or of the job's target."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.clutch.drift import LINING_SHARE_PER_MM, Drift, Tolerance, drifts
from optimizer.clutch.engagement import (
    Hookup,
    Springs,
    first_movement_rpm,
    hookup,
    rpm_per_newton,
    speed_rpm,
)
from optimizer.clutch.engine import Torque, speeds_around, torque
from optimizer.clutch.running import (
    Running,
    modulus_share,
    release_share,
    stack_mass_g,
    stack_pull_kgm,
)
from optimizer.clutch.shoes import Linings, linings_of, shoes_of
from optimizer.estimate.prior import level_sd
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.hookup.powered import Lasting, Powered, lasting, powered
from optimizer.match.result import Assigned
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.running import TorqueCurve
from optimizer.units import MM_PER_IN

#: wear tabulated, in steps of the unit that the user reads
STEPS = np.arange(1.0, 6.0)
STEP_MM = {"mm": 0.1, "in": 0.1016}


@dataclass(frozen=True)
@frozen_arrays
class Engagement:
    """What `engage` shows. `rest_n` and `moves_rpm` (S) are None where the load at rest is
    not known, `lasting` where the stacks are not, `torque` and `linings` where the job gives no
    drum radius and friction, `powered` where it gives no engine either; `drifts` is empty
    where only loads are known and not the stacks that give them. `bare_rpm` is the mean
    engagement speed but for the springs' own mass, which `hookup` counts where it is known;
    `hot_rpm` and `release_rpm` are means, None where they are not known. `pull_kgm` (S) is what
    throws the shoes out at the drum, `shared_n` (S) what the level of all loads leaves in doubt."""

    source: str
    pull_kgm: Array
    shared_n: Array
    hookup: Hookup
    rest_n: Array | None
    moves_rpm: Array | None
    torque: Torque | None
    linings: Linings | None
    powered: Powered | None
    tolerance: Tolerance
    drifts: tuple[Drift, ...]
    lasting: Lasting | None
    running: Running
    bare_rpm: float
    hot_rpm: float | None
    release_rpm: float | None

    @property
    def own_sd_n(self) -> Array | float:
        """Uncertainty of each load (S) beside what all share; 0 where none is known."""
        sd = self.hookup.touch_sd_rpm
        return 0.0 if sd is None else sd / rpm_per_newton(self.hookup.touch_rpm, self.hookup.work_n)


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


def level_doubt(work: Workspace) -> float:
    """Relative doubt of what all predicted loads share: of the load law, or as readings left it.

    Where a speed was seen with these loads it is that of the speed, twice, from the square: shoes
    are then taken to pull as the loads say, and both may be off together.
    """
    known = work.known
    if work.seen is not None:
        return work.seen.pull_sd
    return level_sd(work.task.model.law, None if known is None else known.factor_sd)


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
    shared: float = 0.0,
    curve: TorqueCurve | None = None,
) -> Engagement:
    """Work out how the clutch takes hold.

    Parameters
    ----------
    work_n, sd_n : loads (S) at the travel and their sds, predicted or measured
    stacks : what carries them, where known; its curve is scaled to the loads
    lining_g_per_mm : mass (S) that a shoe loses per mm of lining
    shared : relative uncertainty of the level of all loads
    curve : torque of the engine

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
    springs = None
    if stacks is not None:
        packets, factor = task.packets(stacks.stacks), work_n / stacks.work_n
        springs = Springs(packets, task.datum, stacks.shims_mm, factor)
    known = (0.0 if sd_n is None else sd_n), shared * work_n
    return Engagement(
        source=source,
        pull_kgm=pull,
        shared_n=shared * work_n,
        hookup=how,
        rest_n=rest,
        moves_rpm=None if rest is None else first_movement_rpm(shoes, rest),
        torque=None
        if linings is None
        else torque(pull, linings, work_n, speeds_around(how.touch_rpm), *known),
        linings=linings,
        powered=None
        if linings is None or curve is None
        else powered(job.engine, curve, pull, linings, work_n, *known),
        tolerance=tolerance,
        drifts=()
        if springs is None
        else drifts(springs, shoes, lining_g_per_mm, STEPS * STEP_MM[job.units], tolerance),
        lasting=None
        if springs is None or stacks is None
        else lasting(task, job.life, shoes, springs, pull, work_n, stacks, lining_g_per_mm),
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
    members, shims = stacks.stacks, stacks.shims_mm
    if job.friction.edge or job.friction.between:
        share = release_share(task.discs, members, task.model, task.datum, task.travel_mm, shims)
        found = replace(found, release_share=share)
    radius = [shoe.stack_radius_mm for shoe in job.shoes]
    if None in radius:
        return found
    mass = stack_mass_g(task.discs, members)
    length = task.packets(stacks.stacks).height_mm.sum(1)
    pull = stack_pull_kgm(mass, np.array(radius, dtype=np.float64), length)
    return replace(found, stack_mass_g=mass, stack_pull_kgm=pull)


def _rest_load(task: Task, work_n: Array, stacks: Assigned | None) -> Array | None:
    if not task.datum.has_room:
        return np.full(task.shoes, task.datum.load_n)
    return None if stacks is None else stacks.rest_n * work_n / stacks.work_n
