"""Probability that jointly normal loads lie close together, or close to a target.

All functions work on any number of cases at once: means (..., S) and covariances
(..., S, S) of S stacks broadcast against each other and give probabilities (...).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.special import ndtr, ndtri

from optimizer.mechanics.disc import Array

#: Gauss-Legendre points per half of the hexagon where a number is shown, and in searches
SHOWN = 64
SEARCHED = 16
#: half width in standard deviations of the range that holds 19 of 20
NINETEEN_OF_TWENTY = 1.96
#: standard deviations beyond which nothing of a normal distribution is looked for
REACH = 7.0
#: lattice points for each of these, of four or more stacks
LATTICE = 32
#: lower bound of a standard deviation, as a share of the width asked for
SHARP = 1e-7

_MIDDLE = np.array([[1, 0, 2], [0, 1, 2], [0, 2, 1]])
_DIFFERENCES = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
_PRIMES = np.array([2, 3, 5, 7, 11, 13, 17])


def spread_within(
    mean_n: Array, covariance_n2: Array, width_n: float, points: int = SHOWN
) -> Array:
    """P(largest - smallest <= width) of loads.

    Parameters
    ----------
    mean_n : (..., S) in N, or deviations from unlike targets weighted alike
    covariance_n2 : (..., S, S) in N^2; what is common to all loads cancels
    width_n : the width in N, > 0
    points : Gauss-Legendre points per half; of four stacks and more so many times LATTICE

    Notes
    -----
    Three loads: the normal distribution of two differences d1, d2 over the hexagon
    |d1| <= w, |d2| <= w, |d1 + d2| <= w; Gauss-Legendre over one of them times the
    conditional normal of the other. The stack both differences share is chosen to make
    them least correlated, and the steadier one is integrated over, so that the integrand is
    never sharper than the normal density it holds. Four and more: see `_one_by_one`.
    """
    mean, cover = _together(mean_n, covariance_n2)
    stacks = mean.shape[-1]
    if stacks == 2:
        sd = np.sqrt(np.einsum("...ij,i,j->...", cover, [1.0, -1.0], [1.0, -1.0]))
        return _between(mean[..., 0] - mean[..., 1], sd, -width_n, width_n, width_n)
    if stacks == 3:
        return _hexagon(mean, cover, width_n, points)
    return _one_by_one(mean, cover, width_n, points)


def mean_within(deviation_n: Array, covariance_n2: Array, tolerance_n: float) -> Array:
    """P(|mean deviation from target| <= tolerance), deviations (..., S) in N."""
    mean, cover = _together(deviation_n, covariance_n2)
    sd = np.sqrt(cover.mean((-2, -1)))
    return _between(mean.mean(-1), sd, -tolerance_n, tolerance_n, tolerance_n)


def _together(mean: Array, cover: Array) -> tuple[Array, Array]:
    mean, cover = np.asarray(mean, dtype=np.float64), np.asarray(cover, dtype=np.float64)
    cases = np.broadcast_shapes(mean.shape[:-1], cover.shape[:-2])
    return (
        np.broadcast_to(mean, (*cases, mean.shape[-1])),
        np.broadcast_to(cover, (*cases, *cover.shape[-2:])),
    )


def _between(mean: Array, sd: Array, low: Array | float, high: Array | float, unit: float) -> Array:
    """P(low <= X <= high), written so that nothing is lost far out in the upper tail."""
    sd = np.maximum(sd, SHARP * unit)
    a, b = (low - mean) / sd, (high - mean) / sd
    flip = a > 0
    probability: Array = ndtr(np.where(flip, -a, b)) - ndtr(np.where(flip, -b, a))
    return np.maximum(probability, 0.0)


def _hexagon(mean: Array, cover: Array, width: float, points: int) -> Array:
    d = mean[..., _MIDDLE] @ _DIFFERENCES.T  # (..., 3 choices, 2)
    c = cover[..., _MIDDLE[:, :, None], _MIDDLE[:, None, :]]
    c = _DIFFERENCES @ c @ _DIFFERENCES.T
    v = np.maximum(c[..., [0, 1], [0, 1]], (SHARP * width) ** 2)
    tie = np.abs(c[..., 0, 1]) / np.sqrt(v[..., 0] * v[..., 1])
    best = tie.argmin(-1)[..., None]
    shared = np.take_along_axis(c[..., 0, 1], best, -1)
    d, v = (np.take_along_axis(values, best[..., None], -2)[..., 0, :] for values in (d, v))
    order = np.argsort(v, axis=-1)
    d, v = np.take_along_axis(d, order, -1), np.take_along_axis(v, order, -1)
    m1, m2 = d[..., :1], d[..., 1:]
    s1 = np.sqrt(v[..., :1])
    slope = shared / v[..., :1]
    s2 = np.sqrt(np.maximum(v[..., 1:] - slope * shared, 0.0))

    nodes, weights = _gauss(points)
    found = np.zeros(mean.shape[:-1])
    for low, high in ((-width, 0.0), (0.0, width)):
        start = np.clip(m1 - REACH * s1, low, high)
        end = np.clip(m1 + REACH * s1, low, high)
        x = start + (end - start) * (nodes + 1) / 2
        z = (x - m1) / s1
        density = np.exp(-z * z / 2) / (s1 * np.sqrt(2 * np.pi))
        floor, roof = np.maximum(-width, -width - x), np.minimum(width, width - x)
        inside = _between(m2 + slope * (x - m1), s2, floor, roof, width)
        found += ((end - start) / 2 * weights * density * inside).sum(-1)
    return np.clip(found, 0.0, 1.0)


@cache
def _gauss(points: int) -> tuple[Array, Array]:
    return np.polynomial.legendre.leggauss(points)


def _one_by_one(mean: Array, cover: Array, width: float, points: int) -> Array:
    """P(every load lies within the width of every other), the loads drawn one by one.

    Notes
    -----
    Genz, "Numerical computation of multivariate normal probabilities", J. Comput. Graph.
    Stat. 1 (1992) 141, for differences from the steadiest load: where some are drawn, the next
    lies between their largest less the width and their least and the width. On a fixed lattice
    (square roots of primes, folded): the same answer every time, within about 0.001 of up to six
    loads, and mostly within 0.003 in a search.
    """
    order = np.argsort(np.diagonal(cover, axis1=-2, axis2=-1), axis=-1, kind="stable")
    mean = np.take_along_axis(mean, order, -1)
    cover = np.take_along_axis(cover, order[..., None], -2)
    cover = np.take_along_axis(cover, order[..., None, :], -1)
    size = mean.shape[-1] - 1
    apart = np.hstack([-np.ones((size, 1)), np.eye(size)])
    mean, cover = mean @ apart.T, apart @ cover @ apart.T
    floor = (SHARP * width) ** 2 + 1e-13 * np.trace(cover, axis1=-2, axis2=-1)
    factor = np.linalg.cholesky(cover + floor[..., None, None] * np.eye(size))[..., None]
    lattice = np.arange(1, LATTICE * points + 1) * np.sqrt(_PRIMES[: size - 1, None])
    lattice = np.abs(2 * (lattice % 1) - 1)
    drawn: list[Array] = []
    least, largest = np.zeros(1), np.zeros(1)
    found = np.ones((*mean.shape[:-1], LATTICE * points))
    for i in range(size):
        centre = mean[..., i, None] + sum(factor[..., i, j, :] * y for j, y in enumerate(drawn))
        own = factor[..., i, i, :]
        below, above = (ndtr((edge - centre) / own) for edge in (largest - width, least + width))
        found *= above - below
        if i + 1 < size:
            between = below + lattice[i] * (above - below)
            drawn.append(ndtri(np.clip(between, 1e-300, 1 - 1e-16)))
            load = centre + own * drawn[-1]
            least, largest = np.minimum(least, load), np.maximum(largest, load)
    chance: Array = np.clip(found.mean(-1), 0.0, 1.0)
    return chance
