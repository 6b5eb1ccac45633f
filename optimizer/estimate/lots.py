"""What measurements tell of scatter: of the discs of a lot, and of the instrument by repeats."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from optimizer.mechanics.disc import Array
from optimizer.model.bag import Bag, Repeats
from optimizer.model.job import Instrument

#: sd of the ln of the factor on a declared sd before anything is seen of it: half or twice is one
#: and a third of it; a choice
SCALE_SD = 0.5
#: ln of the factors that are tried, in sds to either side
FACTORS = np.linspace(-4.0, 4.0, 161)


def taught(tool: Instrument, bag: Bag) -> tuple[Instrument, float]:
    """Return an instrument as the repeats of a bag correct it, and what uncertainty they leave.

    The second value is the share of `SCALE_SD` that stands, of the length that was repeated less;
    1 where no disc was measured twice, and then the instrument is as declared.
    """
    thickness, left = _factor(
        bag.thickness_repeats, tool.thickness_sd_mm, tool.thickness_resolution_mm
    )
    height, also = _factor(bag.height_repeats, tool.height_sd_mm, tool.height_resolution_mm)
    mended = replace(
        tool,
        thickness_sd_mm=tool.thickness_sd_mm * thickness,
        height_sd_mm=tool.height_sd_mm * height,
    )
    return mended, max(left, also)


def _factor(seen: Repeats, sd_mm: float, step_mm: float) -> tuple[float, float]:
    """Factor on one declared sd (root mean square), and the share of its uncertainty that is left.

    Notes
    -----
    Sums of squares of normal errors are chi-square with their degrees of freedom; the ln of the
    factor is normal before, with a mean square of the factor of 1.
    """
    if not seen.degrees or not sd_mm:
        return 1.0, 1.0
    ln = SCALE_SD * (FACTORS - SCALE_SD)
    variance = np.exp(2 * ln) * sd_mm**2 + step_mm**2 / 12
    log = -0.5 * (FACTORS**2 + seen.degrees * np.log(variance) + seen.square_mm2 / variance)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    middle = weight @ ln
    left = np.sqrt(weight @ (ln - middle) ** 2) / SCALE_SD
    return float(np.sqrt(weight @ np.exp(2 * ln))), float(min(left, 1.0))


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
