"""How far one reading of the gauge can be off."""

from __future__ import annotations

import numpy as np

from optimizer.mechanics.disc import Array
from optimizer.model.job import Gauge


def reading_variance(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Variance in N^2 of one reading of stacks of a rate (S): step, repeatability, stop.

    Notes
    -----
    Rounding to the display's step is uniform: step^2 / 12. The travel stop is off by some
    micrometres, which a stack of `rate_n_per_mm` turns into load.
    """
    at_stop: Array = (np.asarray(rate_n_per_mm) * gauge.travel_stop_mm) ** 2
    return gauge.resolution_n**2 / 12 + gauge.repeatability_n**2 + at_stop
