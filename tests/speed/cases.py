"""Seeded bags for every kind of pattern, each with a target that its pattern just gives.

All data invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.job import StackRules
from optimizer.model.pattern import Pattern
from optimizer.units import N_PER_LBF
from tests.bags import plain_job, seeded_bag, seeded_task


@dataclass(frozen=True)
class Kind:
    """A kind of pattern with the disc that suits it; lengths in mm."""

    name: str
    sizes: tuple[int, ...]
    pattern: Pattern
    thickness_mm: float
    cone_mm: float
    travel_mm: float = 1.524


KINDS = (
    Kind("singles", (1,), Pattern(7), 1.0, 0.4),
    Kind("pairs", (2,), Pattern(0, 4), 0.8, 0.6),
    Kind("mixed", (1, 2), Pattern(4, 2), 0.9, 0.5),
    Kind("triples", (1, 3), Pattern(4, 0, 1), 0.9, 0.5, 1.3),
)
#: nine singles in series, as lots of clutch stacks usually are
NINE = Kind("singles", (1,), Pattern(9), 1.0, 0.4, 1.9)


def load_of(kind: Kind) -> float:
    """Working load in N of the kind's pattern made of nominal discs."""
    rows = [[0, 1, 2][:size] + [-1] * (3 - size) for size in kind.pattern.sizes]
    d = discs([20.0] * 3, 10.2, kind.thickness_mm, kind.cone_mm, 0.07)
    p = packets(d, np.array([rows]), LoadModel(en16984))
    return float(stack_load(p, Seating(6 * N_PER_LBF), kind.travel_mm)[0])


def free_task(count: int, seed: int) -> Task:
    """Pose a match in which any packets and any number of discs are allowed."""
    kind = KINDS[2]
    rules = StackRules(packet_sizes=(1, 2, 3), deflection_limit=0.8)
    job = plain_job(kind.travel_mm, kind.travel_mm + 0.1, load_of(kind), rules=rules)
    return seeded_task(seeded_bag(count, seed, kind.thickness_mm, kind.cone_mm), job)


def task_of(kind: Kind, count: int, seed: int) -> Task:
    """Pose the match of a seeded bag; the pattern is the kind's own."""
    rules = StackRules(
        packet_sizes=kind.sizes, discs=(kind.pattern.discs,) * 2, deflection_limit=0.8
    )
    job = plain_job(kind.travel_mm, kind.travel_mm + 0.1, load_of(kind), rules=rules)
    bag = seeded_bag(count, seed, kind.thickness_mm, kind.cone_mm)
    half = tuple(
        replace(disc, flat_mm=0.14 if disc.edge == "dressed" else 0.0) for disc in bag.discs
    )
    return seeded_task(replace(bag, discs=half), job)
