"""Where the clutch stands today: its stacks, their loads and speeds, predicted or measured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer import text
from optimizer.clutch.engagement import Hookup, balanced_load_n, hookup, speed_rpm
from optimizer.clutch.engine import holding
from optimizer.clutch.shoes import Linings, has_masses, shoes_of
from optimizer.errors import InputError
from optimizer.estimate.known import as_built
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.io.documents import read_plan
from optimizer.match.plan import plan_stacks
from optimizer.match.result import Assigned, exact
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.plan import PlanSet, set_of
from optimizer.model.readings import Speed
from optimizer.model.running import TorqueCurve
from optimizer.model.stack import discs_of


@dataclass(frozen=True)
@frozen_arrays
class ClutchState:
    """Where the clutch stands: pull (S) and loads (S) at the travel, and the stacks if known.

    `load_n` is what the stacks carry as they were put together, which their discs alone need
    not tell. `mass_g` (S) is None where the job gives none, `linings` and `curve` where it says
    nothing of friction or engine; `shared` is the relative uncertainty of the level of all loads.
    """

    pull_kgm: Array
    load_n: Array
    stacks: Assigned | None
    mass_g: Array | None = None
    linings: Linings | None = None
    curve: TorqueCurve | None = None
    shared: float = 0.0

    @property
    def hookup(self) -> Hookup:
        """Engagement of today's stacks."""
        return hookup(self.pull_kgm, self.load_n)

    def holds_rpm(self, pull_kgm: Array, load_n: Array) -> float | None:
        """Speed from which full throttle is held; None where not known, or never."""
        if self.linings is None or self.curve is None or not np.isfinite(self.linings.gain).all():
            return None
        return holding(pull_kgm, self.linings, load_n, self.curve).rpm


def as_told(task: Task, answer: Assigned, now: ClutchState) -> Assigned:
    """Today's stacks, not taken apart, keep what they carry beside what their discs tell."""
    assert now.stacks is not None
    rest, work, worn = (
        as_built(load, now.stacks.work_n, now.load_n, task.datum)
        for load in (answer.rest_n, answer.work_n, answer.worn_n)
    )
    return replace(answer, rest_n=rest, work_n=work, worn_n=worn)


@dataclass(frozen=True)
@frozen_arrays
class StandingStacks:
    """The stacks in the clutch: where they are known from, and their loads (S) at the travel.

    `sd_n` is the uncertainty beside what all stacks share; `load_n` differs from that of `stacks`,
    as the discs are believed, where readings told how the stacks were put together.
    """

    source: str
    stacks: Assigned
    load_n: Array
    sd_n: Array

    def discs(self, task: Task) -> set[str]:
        """Return the names of their discs."""
        return {name for stack in task.named(self.stacks.stacks) for name in discs_of(stack)}


def today(work: Workspace, plan: Path | None, number: int) -> StandingStacks | None:
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
        stacks = exact(work.task, work.task.members(known.stacks), known.shims_mm, 0.0)
        source = "what stands"
    else:
        return None
    if known is None or not known.records:
        sd = np.array([stack.working_load_sd_n for stack in plan_stacks(work.task, stacks)])
        return StandingStacks(source, stacks, stacks.work_n, sd)
    believed = known.loads(work.task.named(stacks.stacks), stacks.shims)
    return StandingStacks(
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
        raise InputError(f"Expected {task.shoes} stacks, got {len(one.stacks)}.", where, remedy)
    known = set(task.belief.names)
    named = [name for stack in one.stacks for packet in stack.packets for name in packet]
    if unknown := [name for name in named if name not in known]:
        raise InputError(f"names {', '.join(unknown)}, not in the bag.", where, remedy)
    stacks = task.members(stack.packets for stack in one.stacks)
    found = exact(task, stacks, tuple(stack.shims_mm for stack in one.stacks), 0.0)
    if found.work_n.min() <= 0:
        raise InputError(
            f"The stack of shoe {int(found.work_n.argmin()) + 1} does not press at the travel "
            "of this job.",
            where,
            "The plan was made for another travel or installed_length: match anew.",
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


#: a load measured so far from the predicted one is of another stack, or a slip of the hand
FAR = 1.5
#: rounds in which the load factor settles, as the seating load does not scale with it
ROUNDS = 4


def start(
    task: Task,
    job: Job,
    today: StandingStacks | None,
    load_n: float | None,
    rpm: float | None,
    seen: Speed | None = None,
) -> tuple[Task, ClutchState]:
    """Return the task with its load factor, and where the clutch stands.

    Parameters
    ----------
    today : the stacks in the clutch, where a plan or the bench tells them
    load_n : measured mean load at the travel: sets the load factor, so that every load said
        afterwards is one that the gauge would show
    rpm : engagement speed seen with that load: sets lever * mass * radius, so that the job
        need not give them
    seen : what was seen on the engine before, used where neither masses nor `rpm` are given

    Raises
    ------
    InputError
        when it takes a plan, a load, a speed or the masses more to know where it stands.
    """
    stacks = None if today is None else today.stacks
    if stacks is None and load_n is None and not (rpm and has_masses(job)):
        raise InputError(
            "Expected today's stacks or today's load, found neither.",
            "",
            "Give --plan plan.json, or --load-now and --rpm-now.",
        )
    if stacks is not None and load_n is not None:
        task, stacks = _on_the_gauge(task, stacks, load_n)
    alike = np.ones(task.shoes)
    if has_masses(job):
        pull = shoes_of(job).contact_pull_kgm
    elif rpm is not None:
        pull = alike  # how hard the speed tells
    elif seen is not None and seen.rpm is not None:
        pull = _pull(np.array(seen.loads_n), alike, seen.rpm) * alike
    else:
        pull = shoes_of(job).contact_pull_kgm  # says what lacks
    relative = pull / pull.mean()
    if stacks is not None and today is not None:
        load = today.load_n if load_n is None else stacks.work_n
    elif load_n is not None:
        load = load_n * relative
    else:
        return task, ClutchState(pull, balanced_load_n(pull, rpm or 0.0), None)
    if rpm is not None:
        pull = relative * _pull(load, relative, rpm)
    return task, ClutchState(pull, load, stacks)


def _pull(load_n: Array, relative: Array, rpm: float) -> float:
    """Pull with which the mean engagement speed of shoes so unlike is the one seen.

    Lever, mass and radius come out as one product, so none of them need be known.
    """
    return (float(speed_rpm(relative, load_n).mean()) / rpm) ** 2


def _on_the_gauge(task: Task, stacks: Assigned, load_n: float) -> tuple[Task, Assigned]:
    """Set the load factor so that today's stacks carry `load_n` in the mean."""
    ratio = load_n / float(stacks.work_n.mean())
    if not 1 / FAR < ratio < FAR:
        raise InputError(
            f"Expected about {text.load(float(stacks.work_n.mean()), task.units)} as the plan "
            f"predicts, got {text.load(load_n, task.units)}.",
            "--load-now",
            "Check the unit (that of the job), the travel, and that the plan is of the "
            "stacks in the clutch.",
        )
    for _ in range(ROUNDS):
        ratio = load_n / float(stacks.work_n.mean())
        factor = task.model.load_factor * ratio
        task = replace(task, model=replace(task.model, load_factor=factor))
        stacks = exact(task, stacks.stacks, stacks.shims, stacks.cost)
    return task, stacks
