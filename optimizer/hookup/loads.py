"""Measured loads for engagement: typed by hand, or the last of a readings file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from optimizer.errors import InputError, Problem, raise_if
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.problem import Task
from optimizer.io.numbers import NotANumber, parse_number
from optimizer.io.readings import read_readings
from optimizer.match.result import Assigned
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF


def gauge_sd_n(job: Job) -> float:
    """Standard deviation of one reading: repeatability and rounding to the display's step."""
    return float(np.sqrt(reading_variance(job.gauge, 0.0)))


def parse_load(word: str, job: Job, option: str) -> float:
    """Read one load in the job's units, in N.

    Raises
    ------
    InputError
        when it is not a number above 0.
    """
    unit = "lbf" if job.units == "in" else "N"
    try:
        value = parse_number(word.strip())
    except NotANumber:
        value = -1.0
    if not value > 0:
        raise InputError(
            f"Expected a load > 0 in {unit}, got {word.strip()!r}.",
            option,
            "Write one number with a decimal point.",
        )
    return value * (N_PER_LBF if job.units == "in" else 1.0)


def seen_loads(load_n: Sequence[float], job: Job) -> tuple[Array, Array]:
    """Return loads seen on the gauge, one a shoe, with their sds.

    Raises
    ------
    InputError
        when there are not as many as shoes.
    """
    if len(load_n) != len(job.shoes):
        raise InputError(
            f"Expected {len(job.shoes)} loads, one a shoe, got {len(load_n)}.",
            "--loads",
            'Write them with a comma between, such as "198,201,205".',
        )
    return np.array(load_n, dtype=float), np.full(len(load_n), gauge_sd_n(job))


def read_loads(
    path: Path, job: Job, task: Task, stacks: Assigned | None, number: int = 1
) -> tuple[Array, Array, tuple[str, ...]]:
    """Read the settled loads of the last round that has one for a shoe, with sds and remarks.

    Raises
    ------
    InputError
        when the file is bad, or a shoe has no settled reading at its travel.
    """
    names = task.belief.names
    packs = dict(enumerate(task.named(stacks.stacks) if stacks else (), 1))
    found = read_readings(path, names, len(job.shoes), packs, number)
    own = [
        [r for r in found.rows if r.shoe == shoe and _settled_at(r, job.shoes[shoe - 1].travel_mm)]
        for shoe in range(1, len(job.shoes) + 1)
    ]
    raise_if(
        Problem(
            f"Expected a settled reading of shoe {shoe} at its travel, found none.",
            str(path),
            "Read it after a few full strokes and write kind settled.",
        )
        for shoe, rows in enumerate(own, 1)
        if not rows
    )
    last = [[r.load_n for r in rows if r.round == rows[-1].round] for rows in own]
    sd = gauge_sd_n(job) / np.sqrt([len(rows) for rows in last])
    return np.array([float(np.mean(rows)) for rows in last]), sd, found.warnings


def _settled_at(reading: Reading, travel_mm: float) -> bool:
    same = reading.travel_mm is None or abs(reading.travel_mm - travel_mm) < 1e-3
    return reading.kind == "settled" and same
