"""The chances of one set: how likely its true loads agree, and lie on target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.loads import LoadUncertainty
from optimizer.estimate.probability import mean_within, spread_within
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array


@dataclass(frozen=True)
class Chance:
    """Probabilities of one set.

    `within_tolerance`: the true loads lie within the spread tolerance of each other;
    `on_target`: their mean lies within the load tolerance of the target.
    """

    within_tolerance: float
    on_target: float


def chance(
    task: Task,
    uncertainty: LoadUncertainty,
    load_n: Array,
    spread_tolerance_n: float,
    common_sd: float | None = None,
) -> Chance:
    """Chances of stacks with predicted loads `load_n` (S) and their uncertainty.

    Unlike shoes count by relative deviation, as `Task.weight` says. `common_sd` is the
    relative uncertainty of the factor that all loads share, that before any reading where None: it
    hardly touches their differences but decides how near the target they are.
    """
    if common_sd is None:
        common_sd = task.level_sd
    cover = uncertainty.covariance_n2(common_sd)
    return chance_of(task, load_n + uncertainty.shift_n, cover, spread_tolerance_n)


def chance_of(task: Task, mean_n: Array, covariance_n2: Array, spread_tolerance_n: float) -> Chance:
    """Chances of loads with a mean (S) and a covariance (S, S)."""
    weight = task.weight
    deviation = (mean_n - task.target_n) * weight
    cover = covariance_n2 * np.outer(weight, weight)
    return Chance(
        float(spread_within(deviation, cover, spread_tolerance_n)),
        float(mean_within(deviation, cover, task.load_tolerance_n)),
    )
