"""From a job file to a posed task: what every command starts with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.clutch.engagement import matching_note, target_loads
from optimizer.clutch.tachometer import Seen, seen
from optimizer.estimate.direct import believed
from optimizer.estimate.known import Known, teach
from optimizer.estimate.learn import Learned, as_learned
from optimizer.estimate.prior import DiscEstimates, believe
from optimizer.estimate.problem import Task, pose
from optimizer.io.bag.reader import read_bag
from optimizer.io.engine import read_engine
from optimizer.io.job.reader import read_job
from optimizer.io.known_file import known_path, read_known, write_known
from optimizer.model.bag import Bag
from optimizer.model.job import Job
from optimizer.model.readings import Speed


@dataclass(frozen=True)
class Workspace:
    """A job with its bag, what is believed of the discs, and the task they pose.

    `known` is what the bench taught, None where nothing was read or none of it is asked for;
    `seen` what a tachometer did, None where the shoes are as the job says; `elsewhere` are discs of
    the bag that stand in other sets or are lost.
    """

    job: Job
    bag: Bag
    belief: DiscEstimates
    task: Task
    known: Known | None = None
    seen: Seen | None = None
    elsewhere: frozenset[str] = frozenset()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What looked odd in bag and job, how unlike shoes are matched, what the bench taught."""
        told = () if self.known is None else known_note(self.known, self.job)
        return self.bag.warnings + self.job.notes + matching_note(self.job) + told


def measured(path: Path) -> Workspace:
    """Read a job and its bag and pose the task, the discs as they were measured.

    Raises
    ------
    InputError
        with everything that is wrong in either file.
    """
    job = read_job(path)
    return posed(job, read_bag(job.bag_file, job))


def posed(job: Job, bag: Bag) -> Workspace:
    """Pose the task of a job and a bag that were read."""
    task = pose(believe(bag, job), job, target_loads(job))
    task = task.believing(believed(task, bag))
    return Workspace(job, bag, task.belief, task)


def opened(job: Job, bag: Bag, fresh: bool = False) -> Workspace:
    """Pose the task of a job and a bag with all that the bench taught; not with `fresh`.

    Raises
    ------
    InputError
        where discs, travels or datum are no longer those that were read on the bench.
    """
    work = posed(job, bag)
    if fresh:
        return work
    records, speed = read_known(work.job, work.bag)
    if not records and speed is None:
        return work
    return taught(as_seen(work, speed), teach(work.task, records, speed))


def as_typed(work: Workspace) -> Workspace:
    """Return the discs with the very values that stand in the bag, to check by hand.

    Every answer goes by believed values instead: measured ones drawn towards their lot's mean,
    and what the bench taught.
    """
    job, discs = work.job, work.bag.discs
    if work.known is not None:
        before = work.known.learned.before.model.load_factor
        job = replace(job, model=replace(job.model, load_factor=before))
    alone = posed(job, work.bag)
    belief = replace(
        alone.belief,
        thickness_mm=np.array([d.thickness_mm for d in discs]),
        cone_height_mm=np.array([d.cone_height_mm for d in discs]),
        factor=np.ones(len(discs)),
        level_sd=None,
    )
    return replace(alone, belief=belief, task=pose(belief, job, alone.task.target_n))


def as_seen(work: Workspace, speed: Speed | None) -> Workspace:
    """Return the job with shoes and target loads as a speed seen on the engine tells."""
    file = work.job.engine.torque_file
    hold = speed is not None and speed.hold_rpm is not None
    curve = read_engine(file) if hold and file is not None else None
    found = None if speed is None else seen(work.job, speed, curve)
    if found is None:
        return work
    task = pose(work.belief, found.job, target_loads(found.job))
    return replace(work, job=found.job, task=task, seen=found)


def keep_speed(work: Workspace, speed: Speed, fresh: bool) -> Workspace:
    """Keep a speed seen on the engine with what is known of a job, and go by it.

    With `fresh` the sessions of the bench are kept too, but `work` still goes without them.

    Raises
    ------
    InputError
        where speed and masses are too far apart, or the file cannot be written.
    """
    alone = measured(work.job.path)
    seen = as_seen(alone, speed)
    records, _ = read_known(alone.job, alone.bag)
    write_known(alone.job, alone.bag, records, speed)
    if fresh:
        return seen
    return taught(seen, teach(seen.task, records, speed))


def taught(work: Workspace, known: Known) -> Workspace:
    """Return what was measured as the bench corrected it."""
    job = learned_job(work.job, known.learned)
    task = as_learned(work.task, known.learned)
    return replace(work, job=job, belief=task.belief, task=task, known=known)


def known_note(known: Known, job: Job) -> tuple[str, ...]:
    """What to say of an answer that rests on more than the measurements."""
    count = known.learned.evidence.count
    told = () if known.speed is None else tuple(_speed_note(known.speed, job))
    if not count:
        return told
    return (
        *told,
        f"this rests on {count} settled readings of the bench as well as on the measurements: "
        f"load factor {known.learned.load_factor:.4f} +- {known.learned.load_factor_sd:.4f} "
        f"({known_path(job).name}; --fresh leaves them out).",
    )


def _speed_note(speed: Speed, job: Job) -> Iterator[str]:
    """What to say of speeds seen on the engine."""
    kept = f"({known_path(job).name}; --fresh leaves it out)"
    doubt = f" (+- {speed.sd_rpm:.0f})" if speed.sd_rpm else ""
    if speed.rpm is not None:
        yield (
            f"shoes are taken to pull as {speed.rpm:.0f} rpm, seen on the engine, tells{doubt} "
            f"{kept}."
        )
    friction = job.shoes[0].friction
    if speed.hold_rpm is not None and friction is not None:
        yield (
            f"linings are taken to grip as {speed.hold_rpm:.0f} rpm, at which the clutch was seen "
            f"to hold full throttle, tells{doubt}: friction {friction:.3f} +- "
            f"{job.shoes[0].friction_sd:.3f} {kept}."
        )


def learned_job(job: Job, learned: Learned) -> Job:
    """Return the job with the load factor as learned."""
    return replace(job, model=replace(job.model, load_factor=learned.load_factor))
