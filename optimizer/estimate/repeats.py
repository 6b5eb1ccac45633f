"""How well an instrument truly measures, by what discs measured more than once tell of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.model.bag import Bag, Repeats
from optimizer.model.job import Instrument

#: sd of the ln of the factor on a declared sd before anything is seen of it: half or twice is one
#: and a third of it; a choice
SCALE_SD = 0.5
#: ln of the factors that are tried, in sds to either side
TRIED = np.linspace(-4.0, 4.0, 161)


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
    ln = SCALE_SD * (TRIED - SCALE_SD)
    variance = np.exp(2 * ln) * sd_mm**2 + step_mm**2 / 12
    log = -0.5 * (TRIED**2 + seen.degrees * np.log(variance) + seen.square_mm2 / variance)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    middle = weight @ ln
    left = np.sqrt(weight @ (ln - middle) ** 2) / SCALE_SD
    return float(np.sqrt(weight @ np.exp(2 * ln))), float(min(left, 1.0))
