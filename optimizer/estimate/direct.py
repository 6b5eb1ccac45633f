"""Discs pressed one by one on the gauge: what a load at a deflection tells of each.

One reading is one linear observation of a disc's thickness, cone height and stiffness and of the
load factor that all share. Given that factor discs do not know of each other, so each is
corrected by itself once the factor is (the same answer as all at once, but for the doubt of the
factor, which stays one for all).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.prior import DiscEstimates
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.datum import Datum, Seating
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, Model, packets
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.job import Gauge

#: slopes are taken again where the last step ended, so often
ROUNDS = 3


@dataclass(frozen=True)
class Direct:
    """K loads of single discs: `disc` numbers, `at_mm` pressed from the zero, `load_n` the mean
    of `times` readings."""

    disc: Index
    at_mm: Array
    load_n: Array
    times: Array


@dataclass(frozen=True)
class Alone:
    """Single discs (K) on the gauge: load in N, its slope (K, 3) by thickness, cone height (N/mm)
    and ln stiffness (N), rate in N/mm, and the variance in N^2 that edges and gauge bring."""

    load_n: Array
    slope: Array
    rate: Array
    noise_n2: Array


def zero(datum: Datum) -> Seating:
    """Where the deflection of a single disc is counted from: the seating load, else first touch."""
    return Seating(datum.load_n)


def alone(
    belief: DiscEstimates,
    discs: Discs,
    model: Model,
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
    seat, members = zero(datum), np.asarray(disc)[:, None, None]
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
    model: Model,
    datum: Datum,
    gauge: Gauge,
    seen: Direct,
    level_sd: float,
) -> tuple[DiscEstimates, float]:
    """Correct discs by their own loads; returns them and the doubt of the load factor after.

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
    return replace(now, covariance=covariance), float(np.sqrt(level_var))


def mean_of(readings: Sequence[tuple[int, float, float]]) -> Direct:
    """Average readings (disc, mm, N) of one disc at one deflection; the last deflection counts."""
    rows: dict[int, list[tuple[float, float]]] = {}
    for disc, at_mm, load_n in readings:
        rows.setdefault(disc, []).append((at_mm, load_n))
    return Direct(
        np.array(list(rows), dtype=np.intp),
        np.array([r[-1][0] for r in rows.values()]),
        np.array([np.mean([load for _, load in r]) for r in rows.values()]),
        np.array([float(len(r)) for r in rows.values()]),
    )
