"""Assumptions that mend themselves: how much each kind of uncertainty is off what is declared.

Nobody knows the sd of a caliper or the scatter of edges well. A factor on the sds of each kind
(what the instrument left, what no measurement sees, how edges settle) is learned beside them, on
a grid: each point gives a normal state, weighed by how likely it makes what was read, and the
mixture is taken as the normal of its mean and covariance. Whoever declares one sd too small
tends to declare the others so, which is why the factors are correlated before any reading. The
gauge, whose step is known, and the level of the law keep their own doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from optimizer.estimate.evidence import Evidence
from optimizer.estimate.lots import SCALE_SD
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


@dataclass(frozen=True)
@frozen_arrays
class Mended:
    """State (D) and covariance (D, D) after readings, and the factors (K) on the sds of each
    kind (root mean square)."""

    state: Array
    covariance: Array
    factors: Array


def mended(e: Evidence, kinds: Index, scale_sd: float | Array = SCALE_SD) -> Mended:
    """Condition the prior on readings with a factor on the sds of each kind of uncertainty.

    Parameters
    ----------
    e : readings (R) as observations of the state (D), those that do not count as good as deaf
    kinds : (D) number of the kind of each, -1 where its sd holds
    scale_sd : sd of the ln of the factors, of all or of each (K); the mean of a factor's square is
        1, so that before any reading all is as declared

    Notes
    -----
    The evidence of a point is the normal density of the surprises with the mean integrated out
    (as for a lot's true variance in `lots.lot_statistics`).
    """
    ln, log = _grid(np.broadcast_to(scale_sd, (int(kinds.max()) + 1,)))
    factors = np.concatenate([np.ones((len(ln), 1)), np.exp(ln)], axis=1)  # of HOLDS first
    slopes = [e.slope * (kinds == k) for k in range(-1, ln.shape[1])]
    seen = np.array([slope @ e.prior for slope in slopes])
    own = np.array([[s @ slope.T for slope in slopes] for s in seen])
    expected = np.einsum("pk,pl,klij->pij", factors, factors, own) + np.diag(e.noise_n2)
    told = np.linalg.solve(expected, np.broadcast_to(e.surprise_n, expected.shape[:2])[..., None])
    log += -0.5 * np.linalg.slogdet(expected)[1] - 0.5 * told[..., 0] @ e.surprise_n
    weight = np.exp(log - log.max())
    weight *= weight > LEAST * weight.max()
    weight /= weight.sum()
    kept = np.flatnonzero(weight)
    states, cover = np.zeros((len(kept), len(kinds))), np.zeros_like(e.prior)
    for at, point in enumerate(kept):
        by = factors[point][kinds + 1]
        across = np.tensordot(factors[point], seen, 1) * by
        gain = np.linalg.solve(expected[point], across).T
        states[at] = gain @ e.surprise_n
        cover += weight[point] * (e.prior * by[:, None] * by - gain @ across)
    weight = weight[kept]
    state = weight @ states
    off = states - state
    cover += (off.T * weight) @ off
    mean_square = weight @ factors[kept, 1:] ** 2
    return Mended(state, (cover + cover.T) / 2, np.sqrt(mean_square))


def _grid(scale_sd: Array) -> tuple[Array, Array]:
    """Points (P, K) of the ln of the factors, and the ln of their weights (P) before readings."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(POINTS)
    count = len(scale_sd)
    alike = np.full((count, count), ALIKE) + (1 - ALIKE) * np.eye(count)
    at = np.array(list(product(nodes, repeat=count))) @ np.linalg.cholesky(alike).T
    log = np.log(np.array(list(product(weights, repeat=count)))).sum(1)
    return at * scale_sd - scale_sd**2, log
