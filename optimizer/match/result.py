"""An answer, re-computed on the exact mechanics."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.packets import counts_of
from optimizer.match.subproblem import LOOSE, REST_WINDOW
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import stack_load
from optimizer.model.pattern import Pattern
from optimizer.model.stack import Shims, shim_totals

#: what counts as the resolution: 2 % more is allowed for what the linear rows leave out
LEEWAY = 1.02


@dataclass(frozen=True)
@frozen_arrays
class Assigned:
    """One set: the discs and shims of each stack and its exact loads in N (S).

    `stacks` (S, P, 3) are disc numbers, packets bottom to top, -1 where there is none.
    """

    stacks: Index
    shims: Shims
    patterns: tuple[Pattern, ...]
    rest_n: Array
    work_n: Array
    worn_n: Array
    cost: float

    @property
    def discs(self) -> set[int]:
        """All discs of the set."""
        return set(self.stacks[self.stacks >= 0].tolist())

    @property
    def shims_mm(self) -> Array:
        """Thickness of all shims (S) under each stack."""
        return np.array(shim_totals(self.shims), dtype=np.float64)

    @property
    def surcharged_n2(self) -> float:
        """Variance in N^2 with the surcharge on what is less steady: the less the better."""
        return self.cost * surcharge(self.patterns)

    def spread_n(self, weight: Array | float = 1.0) -> float:
        """Largest minus smallest working load, unlike shoes weighted alike."""
        return float(np.ptp(self.work_n * weight))


@dataclass(frozen=True)
class Matched:
    """The answer and what is known of it.

    `spread_bound_n` is a proven lower bound on the spread of any set within tolerance;
    `proven` says that no set has a smaller spread, down to the resolution; `variance_gap`
    is the share by which the variance could at most be smaller with the same match, over
    all arrangements tried, or None where no bound is known.
    """

    answer: Assigned
    proven: bool
    spread_bound_n: float
    variance_gap: float | None
    notes: tuple[str, ...]


def discs_of(sets: Iterable[Matched]) -> set[int]:
    """Return the numbers of all discs of some sets."""
    return set[int]().union(*(one.answer.discs for one in sets))


def exact(task: Task, stacks: Index, shims: Shims, cost: float) -> Assigned:
    """Compute the loads of a set on the exact mechanics; `stacks` as in `Assigned`.

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid.
    """
    p, shim_mm = task.packets(stacks), shim_totals(shims)
    rest, work, worn = (
        stack_load(p, task.datum, travel, np.array(shim_mm))
        for travel in (np.zeros(task.shoes), task.travel_mm, task.worn_travel_mm)
    )
    patterns = tuple(Pattern(*counts_of(stack)) for stack in stacks)
    return Assigned(stacks, shims, patterns, rest, work, worn, cost)


def objective(task: Task, answer: Assigned) -> tuple[float, ...]:
    """What makes an answer better, most important first; smaller is better.

    Spread, then distance from target, then the match on a worn drum and at rest, each down
    to its resolution, then the variance of the loads with its surcharge.
    """
    resolution = task.resolution_n
    weight = task.weight
    off = float(np.abs((answer.work_n - task.target_n) * weight).max())
    rest = float(np.ptp(answer.rest_n * weight)) if task.datum.has_room else 0.0
    return (
        _beyond(answer.spread_n(weight), resolution),
        _beyond(off, resolution),
        _beyond(float(np.ptp(answer.worn_n * weight)), resolution),
        _beyond(rest, REST_WINDOW * resolution),
        answer.surcharged_n2,
    )


def rank(task: Task, answer: Assigned) -> tuple[float, ...]:
    """Order answers of unlike arrangements: pressing at rest, then fewer shims, then `objective`.

    A stack that hangs loose at rest rattles, and where it comes to lie is not known.
    """
    return (is_loose(task, answer), sum(map(len, answer.shims)), *objective(task, answer))


def is_loose(task: Task, answer: Assigned) -> bool:
    """Whether a stack hardly presses at rest."""
    return task.datum.has_room and bool((answer.rest_n < LOOSE * task.target_n).any())


def _beyond(value: float, resolution: float) -> float:
    """Return `value` where it exceeds the resolution with its leeway."""
    return value if value > LEEWAY * resolution else resolution


#: an odd number of packets rests one end on the inside diameter, where it tilts more easily
ODD_SURCHARGE = 1.2


def surcharge(patterns: tuple[Pattern, ...]) -> float:
    """Factor on the variance of patterns that are less steady than even ones."""
    return ODD_SURCHARGE if any(p.packets % 2 for p in patterns) else 1.0
