"""Seeded bags and jobs for tests; all data invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.estimate.prior import believe
from optimizer.estimate.problem import Task, pose
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import (
    Datum,
    DiscDefaults,
    Friction,
    Gauge,
    Instrument,
    Job,
    Model,
    StackRules,
    Target,
)
from optimizer.model.shoe import Shoe
from optimizer.units import N_PER_LBF


def seeded_bag(
    discs: int,
    seed: int,
    thickness_mm: float = 0.9,
    cone_mm: float = 0.5,
    spread: float = 1.0,
) -> Bag:
    """Return discs of about 20 x 10.2 mm, half of them dressed, one lot."""
    rng = np.random.default_rng([seed, discs])
    rows = tuple(
        Disc(
            name=f"D{i + 1:02d}",
            od_mm=20.0,
            id_mm=10.2,
            thickness_mm=round(thickness_mm + spread * rng.normal(0, 0.010), 4),
            cone_height_mm=round(cone_mm + spread * rng.normal(0, 0.015), 4),
            edge="dressed" if rng.random() < 0.5 else "sharp",
            flat_mm=0.0,
        )
        for i in range(discs)
    )
    return Bag(Path("bag.csv"), rows)


def exact_shoe(travel_mm: float, worn_mm: float, **more: Any) -> Shoe:
    """Return a shoe whose travel and seat are known exactly."""
    return Shoe(travel_mm, worn_mm, **{"travel_sd_mm": 0.0, "seat_sd_mm": 0.0, **more})


def plain_job(
    travel_mm: float = 1.524,
    worn_mm: float = 1.7,
    target_n: float = 200 * N_PER_LBF,
    tolerance_n: float = 5 * N_PER_LBF,
    installed_mm: float | None = None,
    rules: StackRules | None = None,
    shoes: int = 3,
) -> Job:
    """Return a job with the trade's usual numbers (common practice, no source)."""
    return Job(
        path=Path("job.toml"),
        bag_file=Path("bag.csv"),
        units="mm",
        shoes=(exact_shoe(travel_mm, worn_mm),) * shoes,
        datum=Datum(None if installed_mm else 6 * N_PER_LBF, installed_mm),
        target=Target(target_n, None, tolerance_n, 2 * N_PER_LBF, 0.1 * N_PER_LBF),
        stack=rules or StackRules(),
        disc=DiscDefaults(),
        instrument=Instrument(),
        model=Model(),
        friction=Friction(),
        gauge=Gauge(N_PER_LBF, 0.2 * N_PER_LBF),
    )


def seeded_task(bag: Bag, job: Job) -> Task:
    """Pose the task of a bag and a job whose target is a load."""
    assert job.target.load_n is not None
    return pose(believe(bag, job), job, np.full(len(job.shoes), job.target.load_n))


def with_rules(job: Job, **rules: object) -> Job:
    """Return the job with some stack rules changed."""
    return replace(job, stack=replace(job.stack, **rules))
