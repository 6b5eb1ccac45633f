"""How well an instrument or a gauge truly measures, by what it says of one thing again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.estimate.evidence import Evidence
from optimizer.model.bag import Bag
from optimizer.model.job import Gauge, Instrument

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
    thick, high = bag.thickness_repeats, bag.height_repeats
    thickness, left = _factor(
        thick.square_mm2, thick.degrees, tool.thickness_sd_mm, tool.thickness_resolution_mm
    )
    height, also = _factor(
        high.square_mm2, high.degrees, tool.height_sd_mm, tool.height_resolution_mm
    )
    mended = replace(
        tool,
        thickness_sd_mm=tool.thickness_sd_mm * thickness,
        height_sd_mm=tool.height_sd_mm * height,
    )
    return mended, max(left, also)


def gauge_taught(gauge: Gauge, e: Evidence) -> tuple[Gauge, float]:
    """Return a gauge as stacks that were read again correct it, and the factor on its sds.

    Both differ from reading to reading alike, so repeatability and travel stop share the factor;
    it is 1 where nothing was read twice as it stood. The step is what the display says.
    """
    square, degrees, shaken = e.repeats
    factor, _ = _factor(square, degrees, np.sqrt(shaken), gauge.resolution_n)
    repeatability, stop = factor * gauge.repeatability_n, factor * gauge.travel_stop_mm
    return replace(gauge, repeatability_n=repeatability, travel_stop_mm=stop), factor


def _factor(square: float, degrees: int, sd: float, step: float) -> tuple[float, float]:
    """Factor on one declared sd (geometric mean), and the share of its uncertainty that is left.

    `square` sums the squares about the means of what was measured again, `step` is the display's.

    Notes
    -----
    Sums of squares of normal errors are chi-square with their degrees of freedom; the ln of the
    factor is normal before, with a mean of 0: too small and too large a declaration are as likely.
    """
    if not degrees or not sd:
        return 1.0, 1.0
    ln = SCALE_SD * TRIED
    variance = np.exp(2 * ln) * sd**2 + step**2 / 12
    log = -0.5 * (TRIED**2 + degrees * np.log(variance) + square / variance)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    middle = weight @ ln
    left = np.sqrt(weight @ (ln - middle) ** 2) / SCALE_SD
    return float(np.exp(middle)), float(min(left, 1.0))
