"""Discs pressed one by one on the gauge: what a load at a deflection tells of each.

One reading is one linear observation of a disc's thickness, cone height and stiffness and of the
load factor that all share. Given that factor discs do not know of each other, so each is
corrected by itself once the factor is (the same answer as all at once, but for the doubt of the
factor, which stays one for all).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError, Problem
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.prior import DiscEstimates, believe, level_sd
from optimizer.estimate.problem import datum_of, disc_arrays, load_model
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.datum import Datum, Seating
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, packets
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.bag import Bag
from optimizer.model.job import Gauge, Job

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


def alone(
    belief: DiscEstimates,
    discs: Discs,
    model: LoadModel,
    datum: Datum,
    gauge: Gauge,
    disc: Index,
    at_mm: Array,
    times: Array | float = 1.0,
) -> Alone:
    """Press discs (K) one by one by `at_mm` (K).

    Raises
    ------
    MechanicsError
        when one would be pressed flat.
    """
    # deflection is counted from the seating load, else from first touch
    seat, members = Seating(datum.load_n), np.asarray(disc)[:, None, None]
    p = packets(discs, members, model)
    load = stack_load(p, seat, at_mm)
    stiffness = rate(p, load)
    each = packet_constant_gradient(discs, members, model, seat, load[:, None])[:, 0, 0]
    slope = -stiffness[:, None] * each
    edges = (slope[:, 2] * belief.scatter[disc]) ** 2
    return Alone(load, slope, stiffness, edges + reading_variance(gauge, stiffness) / times)


def folded(
    belief: DiscEstimates,
    discs: Discs,
    model: LoadModel,
    datum: Datum,
    gauge: Gauge,
    seen: Direct,
    level_sd: float,
) -> DiscEstimates:
    """Correct discs by their own loads, and the doubt of the load factor that all share.

    Parameters
    ----------
    belief, discs : n discs as believed, and as arrays of the mechanics
    seen : K readings, at most one a disc
    level_sd : relative doubt of the factor that all loads share, before them

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
    at, cover = seen.disc, belief.covariance[seen.disc]
    moved, level, level_var = np.zeros((len(at), 3)), 0.0, level_sd**2
    now, gain = belief, np.zeros((len(at), 3))
    slope = gain
    for _ in range(ROUNDS):
        d = replace(
            discs,
            thickness_mm=now.thickness_mm,
            cone_height_mm=now.cone_height_mm,
            factor=now.factor,
        )
        read = alone(now, d, model, datum, gauge, at, seen.at_mm, seen.times)
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
        now = replace(
            belief,
            thickness_mm=belief.thickness_mm + shift[:, 0],
            cone_height_mm=belief.cone_height_mm + shift[:, 1],
            factor=belief.factor * np.exp(level + shift[:, 2]),
        )
    covariance = belief.covariance.copy()
    left = cover - np.einsum("ki,kl,klj->kij", gain, slope, cover)
    covariance[at] = (left + np.swapaxes(left, 1, 2)) / 2
    return replace(now, covariance=covariance, level_sd=float(np.sqrt(level_var)))


def believed(bag: Bag, job: Job) -> DiscEstimates:
    """Turn measured discs into believed ones, with what their own loads on the gauge tell.

    Raises
    ------
    InputError
        when all loads are so far from what the discs should carry that their unit must be wrong.
    MechanicsError
        when a disc would be pressed flat.
    """
    belief = believe(bag, job)
    pressed = [(number, d) for number, d in enumerate(bag.discs) if d.load_n is not None]
    if not pressed:
        return belief
    seen = Direct(
        np.array([number for number, _ in pressed]),
        np.array([d.at_mm for _, d in pressed], dtype=np.float64),
        np.array([d.load_n for _, d in pressed], dtype=np.float64),
        np.array([float(d.loads) for _, d in pressed]),
    )
    model, datum, discs = load_model(job), datum_of(job), disc_arrays(belief, job)
    should = alone(belief, discs, model, datum, job.gauge, seen.disc, seen.at_mm).load_n
    times = float(np.median(seen.load_n / should))
    if not 1 / WRONG_UNIT < times < WRONG_UNIT:
        raise InputError(
            Problem(
                f"Expected loads of discs alone near what they should carry, got {times:.2g} times "
                "that (median).",
                f"{bag.path.name}, load",
                "Look at the unit of the load and of at, and at where at is counted from: the "
                "seating load of the job, else first touch.",
            )
        )
    return folded(belief, discs, model, datum, job.gauge, seen, level_sd(model.law))
