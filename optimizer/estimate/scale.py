"""Assumptions that mend themselves: how much each kind of uncertainty is off what is declared.

Nobody knows the sd of a caliper or the scatter of edges well. A factor on the sds of each kind
(what the instrument left, what no measurement sees, how edges settle) is learned beside them, on
a grid: each point gives a normal state, weighed by how likely it makes what was read, and the
mixture is taken as the normal of its mean and covariance. Whoever declares one sd too small
tends to declare the others so, which is why the factors are correlated before any reading. The
level of the law keeps its own doubt, the gauge has a factor of its own (`repeats`).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from optimizer.estimate.evidence import Evidence
from optimizer.estimate.repeats import SCALE_SD
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index

#: correlation of the ln of two factors before any reading; a choice
ALIKE = 0.6
#: points of the grid a kind (Gauss-Hermite)
POINTS = 7
#: points of less weight are left out
LEAST = 3e-4
#: kinds of doubt: what holds as declared, then thickness and cone height as the instrument left
#: them, stiffness, flats and shoes, and how edges settle at a build
HOLDS, INSTRUMENT, REST, EDGES = -1, 0, 1, 2
KINDS = 3
#: the gauge is learned first, by what it says of one build again (`repeats.gauge_taught`)
GAUGE = KINDS


@dataclass(frozen=True)
@frozen_arrays
class Mended:
    """State (D) and covariance (D, D) after readings, and the factors (K) on the sds of each
    kind (geometric mean)."""

    state: Array
    covariance: Array
    factors: Array


def mended(e: Evidence, kinds: Index, scale_sd: float | Array = SCALE_SD) -> Mended:
    """Condition the prior on readings with a factor on the sds of each kind of uncertainty.

    Parameters
    ----------
    e : readings (R) as observations of the state (D), those that do not count as good as deaf
    kinds : (D) number of the kind of each, -1 where its sd holds
    scale_sd : sd of the ln of the factors, of all or of each (K); what is declared is as likely too
        small as too large, so the mean of the ln is 0

    Notes
    -----
    The evidence of a point is the normal density of the surprises with the mean integrated out
    (as for a lot's true variance in `lots.lot_statistics`). The covariance is that at the mean of
    the ln of the factors, and what the states of the points differ: without readings it is as
    declared, where the mean of the points' covariances would be exp(2 scale_sd^2) of it.
    """
    ln, log = _grid(np.broadcast_to(scale_sd, (int(kinds.max()) + 1,)))
    factors = np.concatenate([np.ones((len(ln), 1)), np.exp(ln)], axis=1)  # of HOLDS first
    slopes = [e.slope * (kinds == k) for k in range(-1, ln.shape[1])]
    seen = np.array([slope @ e.prior for slope in slopes])
    own = np.array([[s @ slope.T for slope in slopes] for s in seen])
    expected = np.einsum("pk,pl,klij->pij", factors, factors, own) + np.diag(e.noise_n2)
    told = np.linalg.solve(expected, np.broadcast_to(e.surprise_n, expected.shape[:2])[..., None])
    told = told[..., 0]
    log += -0.5 * np.linalg.slogdet(expected)[1] - 0.5 * told @ e.surprise_n
    weight = np.exp(log - log.max())
    weight *= weight > LEAST * weight.max()
    weight /= weight.sum()
    kept = np.flatnonzero(weight)
    weight = weight[kept]
    middle = np.exp(weight @ np.log(factors[kept]))

    def across(factor: Array) -> Array:
        """Covariance (R, D) of what is read with the state, by the factors of HOLDS and kinds."""
        return np.tensordot(factor, seen, 1) * factor[kinds + 1]

    states = np.array([told[point] @ across(factors[point]) for point in kept])
    state = weight @ states
    off = states - state
    by, both = middle[kinds + 1], across(middle)
    middling = np.einsum("k,l,klij->ij", middle, middle, own) + np.diag(e.noise_n2)
    cover = e.prior * by[:, None] * by - both.T @ np.linalg.solve(middling, both)
    cover += (off.T * weight) @ off
    return Mended(state, (cover + cover.T) / 2, middle[1:])


def _grid(scale_sd: Array) -> tuple[Array, Array]:
    """Points (P, K) of the ln of the factors, and the ln of their weights (P) before readings."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(POINTS)
    count = len(scale_sd)
    alike = np.full((count, count), ALIKE) + (1 - ALIKE) * np.eye(count)
    at = np.array(list(product(nodes, repeat=count))) @ np.linalg.cholesky(alike).T
    log = np.log(np.array(list(product(weights, repeat=count)))).sum(1)
    return at * scale_sd, log
