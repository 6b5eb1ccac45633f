"""Assumptions that mend themselves: how much larger or smaller all doubt is than declared.

Nobody knows the scatter of edges or the sd of a caliper well. One factor on all sds of discs,
builds and shoes is learned beside them, on a grid: each point gives a normal state, weighed by
how likely it makes what was read, and the mixture is taken as the normal of its mean and
covariance. The gauge, whose step is known, and the level of the law keep their own doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.evidence import Evidence
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array

#: sd of the ln of the factor before any reading: half or twice is one and a third of it; a choice
SCALE_SD = 0.5
#: points of the grid, and how many of those sds it reaches to either side
POINTS, REACH = 9, 2.5


@dataclass(frozen=True)
@frozen_arrays
class Mended:
    """State (D) and covariance (D, D) after readings, and the factor on sds (root mean square)."""

    state: Array
    covariance: Array
    factor: float


def mended(e: Evidence, scaled: Array, scale_sd: float = SCALE_SD) -> Mended:
    """Condition the prior on readings with a factor on the sds of part of the state in doubt.

    Parameters
    ----------
    e : readings (R) as observations of the state (D), those that do not count as good as deaf
    scaled : (D) 1 where the factor acts, 0 where it does not
    scale_sd : sd of its ln; the mean of its square is 1, so that before any reading all is as
        declared

    Notes
    -----
    The evidence of a point is the normal density of the surprises with the mean integrated out
    (as for a lot's true variance in `prior.lot_statistics`).
    """
    grid = scale_sd * (np.linspace(-REACH, REACH, POINTS) - scale_sd)
    log = -0.5 * (grid / scale_sd + scale_sd) ** 2
    states, covers = [], []
    for at, ln in enumerate(grid):
        by = np.where(scaled > 0, np.exp(ln), 1.0)
        prior = e.prior * by[:, None] * by
        seen = e.slope @ prior
        expected = seen @ e.slope.T + np.diag(e.noise_n2)
        gain = np.linalg.solve(expected, seen).T
        log[at] -= 0.5 * np.linalg.slogdet(expected)[1]
        log[at] -= 0.5 * e.surprise_n @ np.linalg.solve(expected, e.surprise_n)
        states.append(gain @ e.surprise_n)
        covers.append(prior - gain @ seen)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    state = np.array(states).T @ weight
    off = np.array(states) - state
    cover = np.einsum("k,kij->ij", weight, np.array(covers)) + (off.T * weight) @ off
    factor = float(np.sqrt(weight @ np.exp(2 * grid)))
    return Mended(state, (cover + cover.T) / 2, factor)
