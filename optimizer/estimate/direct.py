"""Discs pressed one by one on the gauge: what a load at a deflection tells of each.

One reading is one linear observation of a disc's thickness, cone height and stiffness and of the
load factor that all share. Given that factor discs do not know of each other, so each is
corrected by itself once the factor is (the same answer as all at once, but for the uncertainty of
the factor, which stays one for all).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.prior import DiscEstimates
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.bag import Bag

#: slopes are taken again where the last step ended, so often
ROUNDS = 3
#: loads of all discs so many times what they should be are of another unit
WRONG_UNIT = 2.0


@dataclass(frozen=True)
@frozen_arrays
class Direct:
    """K loads of single discs: `disc` numbers, `at_mm` pressed from the zero, `load_n` the mean
    of `times` readings."""

    disc: Index
    at_mm: Array
    load_n: Array
    times: Array


@dataclass(frozen=True)
@frozen_arrays
class Alone:
    """Single discs (K) on the gauge: load in N, its slope (K, 3) by thickness, cone height (N/mm)
    and ln stiffness (N), rate in N/mm, and the variance in N^2 that edges and gauge bring."""

    load_n: Array
    slope: Array
    rate: Array
    noise_n2: Array


def alone(task: Task, disc: Index, at_mm: Array, times: Array | float = 1.0) -> Alone:
    """Press discs (K) of a task one by one by `at_mm` (K), and read each so many times.

    Raises
    ------
    MechanicsError
        when one would be pressed flat.
    """
    # deflection is counted from the seating load, else from first touch
    seat, members = Seating(task.datum.load_n), np.asarray(disc)[:, None, None]
    p = task.packets(members)
    load = stack_load(p, seat, at_mm)
    stiffness = rate(p, load)
    each = packet_constant_gradient(task.discs, members, task.model, seat, load[:, None])
    each = each[:, 0, 0]
    slope = -stiffness[:, None] * each
    edges = (slope[:, 2] * task.belief.scatter[disc]) ** 2
    return Alone(load, slope, stiffness, edges + reading_variance(task.gauge, stiffness) / times)


def folded(task: Task, seen: Direct) -> DiscEstimates:
    """Correct the discs of a task by their own loads, and the uncertainty of the load factor.

    Parameters
    ----------
    seen : K readings, at most one a disc

    Raises
    ------
    MechanicsError
        when a disc would be pressed flat.

    Notes
    -----
    With a load e above what was expected, slope s, doubt C of the disc, noise r and load F, the
    factor's ln has precision 1 / level_sd^2 + sum F^2 / (s C s' + r); a disc is then moved by
    C s' / (s C s' + r) times what the factor leaves of e (Kalman, J. Basic Eng. 82 (1960) 35).
    """
    belief, at = task.belief, seen.disc
    cover, level_sd = belief.covariance[at], task.level_sd
    moved, level, level_var = np.zeros((len(at), 3)), 0.0, level_sd**2
    now, gain = belief, np.zeros((len(at), 3))
    slope = gain
    for _ in range(ROUNDS):
        read = alone(task.believing(now), at, seen.at_mm, seen.times)
        slope = read.slope
        # the slope by the factor of all is that by the disc's own
        surprise = seen.load_n - read.load_n + (slope * moved).sum(1) + slope[:, 2] * level
        doubt = np.einsum("ki,kij,kj->k", slope, cover, slope) + read.noise_n2
        level_var = 1 / (1 / level_sd**2 + (slope[:, 2] ** 2 / doubt).sum())
        level = float(level_var * (slope[:, 2] * surprise / doubt).sum())
        gain = np.einsum("kij,kj->ki", cover, slope) / doubt[:, None]
        moved = gain * (surprise - slope[:, 2] * level)[:, None]
        shift = np.zeros((len(belief), 3))
        shift[at] = moved
        shift[:, 2] += level  # all share the factor
        now = belief.shifted(shift)
    covariance = belief.covariance.copy()
    left = cover - np.einsum("ki,kl,klj->kij", gain, slope, cover)
    covariance[at] = (left + np.swapaxes(left, 1, 2)) / 2
    return replace(now, covariance=covariance, level_sd=float(np.sqrt(level_var)))


def believed(task: Task, bag: Bag) -> DiscEstimates:
    """Return the discs of a task with what their own loads on the gauge tell, where any has one.

    Raises
    ------
    InputError
        when all loads are so far from what the discs should carry that their unit must be wrong.
    MechanicsError
        when a disc would be pressed flat.
    """
    pressed = [(number, d) for number, d in enumerate(bag.discs) if d.load_n is not None]
    if not pressed:
        return task.belief
    seen = Direct(
        np.array([number for number, _ in pressed]),
        np.array([d.at_mm for _, d in pressed], dtype=np.float64),
        np.array([d.load_n for _, d in pressed], dtype=np.float64),
        np.array([float(d.loads) for _, d in pressed]),
    )
    should = alone(task, seen.disc, seen.at_mm).load_n
    times = float(np.median(seen.load_n / should))
    if not 1 / WRONG_UNIT < times < WRONG_UNIT:
        raise InputError(
            f"Expected loads of discs alone near what they should carry, got {times:.2g} times "
            "that (median).",
            f"{bag.path.name}, load",
            "Look at the unit of the load and of at, and at where at is counted from: the "
            "seating load of the job, else first touch.",
        )
    return folded(task, seen)
