"""Where a change of hookup starts: today's loads and speeds, predicted or measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer import text
from optimizer.clutch.engagement import balanced_load_n, calibrated_pull_kgm, speed_rpm
from optimizer.clutch.shoes import has_masses, shoes_of
from optimizer.errors import InputError, Problem
from optimizer.estimate.problem import Task
from optimizer.hookup.stand import Now
from optimizer.hookup.today import Today
from optimizer.match.result import Assigned, exact
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.knowledge import Speed

#: a load measured so far from the predicted one is of another stack, or a slip of the hand
FAR = 1.5
#: rounds in which the load factor settles, as the seating load does not scale with it
ROUNDS = 4


def start(
    task: Task,
    job: Job,
    today: Today | None,
    load_n: float | None,
    rpm: float | None,
    seen: Speed | None = None,
) -> tuple[Task, Now]:
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
            Problem(
                "Expected today's stacks or today's load, found neither.",
                "",
                "Give --plan plan.json, or --load-now and --rpm-now.",
            )
        )
    if stacks is not None and load_n is not None:
        task, stacks = _on_the_gauge(task, stacks, load_n)
    pull = None
    if has_masses(job):
        pull = shoes_of(job).contact_pull_kgm
    elif seen is not None and seen.rpm is not None and rpm is None:
        pull = _pull(np.array(seen.loads_n), np.ones(task.shoes), seen.rpm) * np.ones(task.shoes)
    elif rpm is None:
        pull = shoes_of(job).contact_pull_kgm  # says what lacks
    relative = np.ones(task.shoes) if pull is None else pull / pull.mean()
    if stacks is not None and today is not None:
        load = today.load_n if load_n is None else stacks.work_n
    elif load_n is not None:
        load = load_n * relative
    else:
        assert pull is not None
        return task, Now(pull, balanced_load_n(pull, rpm or 0.0), None)
    if rpm is not None:
        pull = relative * _pull(load, relative, rpm)
    assert pull is not None
    return task, Now(pull, load, stacks)


def _pull(load_n: Array, relative: Array, rpm: float) -> float:
    """Pull with which the mean engagement speed of shoes so unlike is the one seen."""
    mean = float(speed_rpm(relative, load_n).mean())
    return float(calibrated_pull_kgm(1.0, rpm) / calibrated_pull_kgm(1.0, mean))


def _on_the_gauge(task: Task, stacks: Assigned, load_n: float) -> tuple[Task, Assigned]:
    """Set the load factor so that today's stacks carry `load_n` in the mean."""
    ratio = load_n / float(stacks.work_n.mean())
    if not 1 / FAR < ratio < FAR:
        raise InputError(
            Problem(
                f"Expected about {text.load(float(stacks.work_n.mean()), task.units)} as the plan "
                f"predicts, got {text.load(load_n, task.units)}.",
                "--load-now",
                "Check the unit (that of the job), the travel, and that the plan is of the "
                "stacks in the clutch.",
            )
        )
    for _ in range(ROUNDS):
        ratio = load_n / float(stacks.work_n.mean())
        factor = task.model.load_factor * ratio
        task = replace(task, model=replace(task.model, load_factor=factor))
        stacks = exact(task, stacks.stacks, stacks.shims, stacks.cost)
    return task, stacks
