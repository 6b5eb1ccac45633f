"""Mean and true variance of a lot, from noisy measurements of its discs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.mechanics.disc import Array

#: a lot of fewer discs says nothing of its own variance: its values stay as measured
SMALLEST_LOT = 4
#: variance in mm^2 that stands for "nothing is known of the lot"
UNKNOWN_MM2 = 1.0
#: true standard deviations tried, up to this many times the one measured
TRIED, WIDEST = 200, 3.0
#: below this variance in mm^2 two lengths are one
NOTHING_MM2 = 1e-18


def lot_statistics(
    value: Array, noise_mm2: Array, group: NDArray[np.intp]
) -> tuple[Array, Array, Array]:
    """Mean and true variance of the group of each value (n), measured with `noise_mm2` (n).

    The third array (n) is the variance of the reliability true / (true + noise), since the
    true variance is itself known only roughly.

    Notes
    -----
    The true variance is the mean over its posterior from a flat prior on the true standard
    deviation (Gelman, Bayesian Analysis 1 (2006) 515) and the likelihood of normal values
    with the mean integrated out. So it is never nought: a coarse instrument that sees no
    more than its own noise cannot tell that the discs are equal. A group too small to
    tell gets its own values as means and an unknown variance.
    """
    mean, variance = value.copy(), np.full(len(value), UNKNOWN_MM2)
    unsure = np.zeros(len(value))
    for label in np.unique(group):
        rows = np.flatnonzero(group == label)
        if len(rows) < SMALLEST_LOT:
            continue
        x, noise = value[rows], noise_mm2[rows]
        widest = WIDEST * np.sqrt(x.var(ddof=1) + NOTHING_MM2)
        tried = (widest * (np.arange(TRIED) + 0.5) / TRIED) ** 2
        total = tried[:, None] + noise
        centre = (x / total).sum(1) / (1 / total).sum(1)
        misfit = ((x - centre[:, None]) ** 2 / total).sum(1)
        log = -0.5 * (np.log(total).sum(1) + np.log((1 / total).sum(1)) + misfit)
        weight = np.exp(log - log.max())
        mean[rows] = np.average(centre, weights=weight)
        variance[rows] = np.average(tried, weights=weight)
        real = tried[:, None] / total
        middle = np.average(real, weights=weight, axis=0)
        unsure[rows] = np.average((real - middle) ** 2, weights=weight, axis=0)
    return mean, variance, unsure
