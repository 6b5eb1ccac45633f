"""From a job file to a posed task: what every command starts with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.assignment.problem import Task, pose
from optimizer.clutch.target import matching_note, target_loads
from optimizer.inventory.bag import Bag
from optimizer.inventory.belief import Belief, believe
from optimizer.inventory.reader import read_bag
from optimizer.job.model import Job
from optimizer.job.reader import read_job


@dataclass(frozen=True)
class Workspace:
    """A job with its bag, what is believed of the discs, and the task they pose."""

    job: Job
    bag: Bag
    belief: Belief
    task: Task

    @property
    def warnings(self) -> tuple[str, ...]:
        """What looked odd in the bag, and how unlike shoes are matched."""
        return self.bag.warnings + matching_note(self.job)


def open_job(path: Path) -> Workspace:
    """Read a job and its bag and pose the task.

    Raises
    ------
    InputError
        with everything that is wrong in either file.
    """
    job = read_job(path)
    bag = read_bag(job.bag_file, job)
    belief = believe(bag, job)
    return Workspace(job, bag, belief, pose(belief, job, target_loads(job)))
