"""Where a way starts: discs as measured, what the bench taught, what stands or is planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.known import in_order
from optimizer.estimate.learn import Learned, as_learned, learn
from optimizer.estimate.pace import paced
from optimizer.estimate.problem import Task, pose
from optimizer.estimate.repeats import SCALE_SD
from optimizer.match.own_sets import of_one_set
from optimizer.match.solve import match
from optimizer.match.workspace import Workspace
from optimizer.mechanics.stack import deflection, required_deflection
from optimizer.model.job import Job
from optimizer.model.readings import Reading
from optimizer.model.stack import Shims, Stack, discs_of, shim_totals


@dataclass(frozen=True)
class StartingPoint:
    """What a person holds before a way is taken.

    `task` poses the discs as measured; `readings` are all so far, of sub-stacks that stay
    together where `keep_groups`; `stacks` and `shims` stand under the shoes where `stands`, and
    are the best set of what is believed where not.
    """

    job: Job
    task: Task
    readings: tuple[Reading, ...]
    keep_groups: bool
    stacks: tuple[Stack, ...]
    shims: Shims
    stands: bool

    @staticmethod
    def of(work: Workspace, seed: int = 0) -> StartingPoint:
        """Take a job as it is known now.

        Raises
        ------
        CannotBuildError
            when no set of these discs keeps the limits of the job.
        InputError
            when the bag keeps discs for several sets, and nothing stands that tells which.
        """
        known, job = work.known, replace(work.job, effort=paced(work.job))
        standing = known is not None and known.stands
        stacks = known.stacks if known is not None and standing else ()
        work = of_one_set(work, {disc for stack in stacks for disc in discs_of(stack)})
        if known is None:
            task, keep = work.task, False
            readings: tuple[Reading, ...] = ()
        else:
            before = known.learned.before
            model = replace(work.job.model, load_factor=before.model.load_factor)
            task = pose(before.belief, replace(work.job, model=model), work.task.target_n)
            of_set = work.task
            task = replace(task, usable=of_set.usable, use=of_set.use, together=of_set.together)
            readings = in_order(known.records)
            keep = any(record.groups for record in known.records)
        if known is not None and standing and not known.unread:
            return StartingPoint(job, task, readings, keep, stacks, known.shims_mm, True)
        answer = match(work.task, Limits(), seed).answer
        stacks = task.named(answer.stacks)
        return StartingPoint(job, task, readings, keep, stacks, answer.shims, False)

    def learned(
        self,
        task: Task,
        readings: Sequence[Reading],
        shims: Shims,
        keep_groups: bool,
    ) -> tuple[Learned, Task]:
        """Learn from readings of discs as a task believes them; returns the task as learned."""
        totals = shim_totals(shims)
        learned = learn(task, readings, totals, keep_groups, None, SCALE_SD)
        return learned, as_learned(task, learned)

    @property
    def alone_mm(self) -> float:
        """Deflection of a disc by itself that is that of a packet at the travel."""
        rig = self.task
        p = rig.packets(rig.members(self.stacks))
        shims = np.array(shim_totals(self.shims))
        pressed = required_deflection(p, rig.datum, rig.travel_mm, shims)
        pressed = pressed - deflection(p, rig.datum.load_n)
        return float((pressed / p.present.any(-1).sum(-1)).mean())
