"""The stacks that are in the clutch today, and their loads."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from optimizer.errors import InputError, Problem
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.io.documents import read_plan
from optimizer.match.plan import plan_stacks
from optimizer.match.result import Assigned, exact
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.plan import PlanSet, set_of
from optimizer.model.stack import discs_of


@dataclass(frozen=True)
@frozen_arrays
class Today:
    """The stacks in the clutch: where they are known from, and their loads (S) at the travel.

    `sd_n` is the doubt beside what all stacks share; `load_n` differs from that of `stacks`, as
    the discs are believed, where readings told how the stacks were put together.
    """

    source: str
    stacks: Assigned
    load_n: Array
    sd_n: Array

    def discs(self, task: Task) -> set[str]:
        """Return the names of their discs."""
        return {name for stack in task.named(self.stacks.stacks) for name in discs_of(stack)}


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
