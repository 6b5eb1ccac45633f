"""Invented bags and hidden truths, for checks of chance against exact mechanics."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.estimate.prior import believe
from optimizer.estimate.problem import Task, pose
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import stack_load
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
from tests.bags import exact_shoe

#: names of the two datums, each with the value that makes stacks of 6 packets carry 700-900 N
DATUMS = {"seating": Datum(27.0, None), "installed": Datum(None, 9.95)}


def a_job(
    datum: str = "seating",
    law: str = "en16984",
    tool: Instrument = Instrument(0.004, 0.006),  # noqa: B008 - a frozen value
    targets: int = 3,
) -> Job:
    """Return a job of three shoes."""
    return Job(
        path=Path("job.toml"),
        bag_file=Path("bag.csv"),
        units="mm",
        shoes=(exact_shoe(1.5, 1.7),) * targets,
        datum=DATUMS[datum],
        target=Target(850.0, None, 20.0, 9.0, 0.45),
        stack=StackRules(),
        disc=DiscDefaults(),
        instrument=tool,
        model=replace(Model(), law=law),
        friction=Friction(),
        gauge=Gauge(4.4, 0.9),
    )


def a_bag(overall: bool = True, sharp: float = 0.4, n: int = 40, seed: int = 1) -> Bag:
    """Return measured discs that truly differ by 12 um in thickness and 20 um in cone."""
    rng = np.random.default_rng(seed)
    discs = []
    for i in range(n):
        edge = "sharp" if rng.random() < sharp else "dressed"
        discs.append(
            Disc(
                name=f"D{i:02d}",
                od_mm=20.0,
                id_mm=10.2,
                thickness_mm=0.9 + 0.012 * rng.normal(),
                cone_height_mm=0.5 + 0.02 * rng.normal(),
                edge=edge,
                flat_mm=0.15 if edge == "dressed" else 0.0,
                from_overall_height=overall,
            )
        )
    return Bag(Path("bag.csv"), tuple(discs))


@dataclass(frozen=True)
class Set:
    """A task and three stacks dealt from it: five singles, and pairs as many as asked."""

    task: Task
    job: Job
    stacks: np.ndarray
    load_n: np.ndarray


def a_set(
    datum: str = "seating",
    law: str = "en16984",
    *,
    overall: bool = True,
    tool: Instrument = Instrument(0.004, 0.006),  # noqa: B008 - a frozen value
    sharp: float = 0.4,
    singles: int = 4,
    pairs: int = 2,
) -> Set:
    """Deal a bag to three stacks in the order of its cone heights, taller cones first."""
    job = a_job(datum, law, tool)
    task = pose(believe(a_bag(overall, sharp), job), job, np.full(3, job.target.load_n))
    order = iter(int(d) for d in np.argsort(-task.discs.cone_height_mm))
    stacks = [[[next(order), next(order), -1] for _ in range(pairs)] for _ in range(3)]
    for _ in range(singles):
        for stack in stacks:
            stack.append([next(order), -1, -1])
    dealt = np.array(stacks)
    load = stack_load(packets(task.discs, dealt, task.model), task.datum, task.travel_mm)
    return Set(task, job, dealt, load)


def true_loads(one: Set, count: int, seed: int = 0, common_sd: float = 0.0) -> np.ndarray:
    """Loads (count, 3) on exact mechanics, every disc's truth drawn from the belief."""
    rng = np.random.default_rng(seed)
    task, belief = one.task, one.task.belief
    n = len(belief)
    root = np.linalg.cholesky(belief.covariance + 1e-20 * np.eye(3))
    error = np.einsum("nij,knj->kni", root, rng.normal(size=(count, n, 3)))
    scatter = belief.scatter * rng.normal(size=(count, n))
    stiff = np.exp(error[..., 2] + scatter + common_sd * rng.normal(size=(count, 1)))
    d = task.discs.take(np.tile(np.arange(n), count))
    drawn = replace(
        d,
        thickness_mm=d.thickness_mm + error[..., 0].ravel(),
        cone_height_mm=d.cone_height_mm + error[..., 1].ravel(),
        factor=d.factor * stiff.ravel(),
    )
    members = one.stacks
    places = np.where(members >= 0, members + n * np.arange(count)[:, None, None, None], -1)
    return stack_load(packets(drawn, places, task.model), task.datum, task.travel_mm)


def spread_chance(loads: np.ndarray, width: float) -> float:
    """P(max - min <= width) of independent stacks, from draws (count, S) of each.

    Every draw of a stack is paired with every draw of the others.
    """
    ordered = np.sort(loads, axis=0)
    count, stacks = loads.shape
    total = 0.0
    for k in range(stacks):
        inside = np.ones(count)
        for other in set(range(stacks)) - {k}:
            above = np.searchsorted(ordered[:, other], loads[:, k] + width)
            inside *= (above - np.searchsorted(ordered[:, other], loads[:, k])) / count
        total += inside.mean()
    return total
