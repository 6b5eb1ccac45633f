"""From a job file to a posed task: what every command starts with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from optimizer.assignment.problem import Task, pose
from optimizer.inventory.bag import Bag
from optimizer.inventory.belief import Belief, believe
from optimizer.inventory.reader import read_bag
from optimizer.job.model import Job
from optimizer.job.reader import read_job
from optimizer.physics.disc import Array


@dataclass(frozen=True)
class Workspace:
    """A job with its bag, what is believed of the discs, and the task they pose."""

    job: Job
    bag: Bag
    belief: Belief
    task: Task


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


def target_loads(job: Job) -> Array:
    """Target load in N of each shoe (S)."""
    assert job.target.load_n is not None
    return np.full(len(job.shoes), job.target.load_n)
