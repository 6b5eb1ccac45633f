"""How far one reading of the gauge can be off, and what readings again cannot average out."""

from __future__ import annotations

import numpy as np

from optimizer.mechanics.disc import Array
from optimizer.model.job import Gauge

#: harmonics of the rounding error that are summed; the rest is below a thousandth of it
HARMONICS = np.arange(1, 40)


def reading_variance(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Variance in N^2 of one reading of stacks of a rate (S): step, repeatability, stop.

    Notes
    -----
    Rounding to the display's step is uniform: step^2 / 12. The travel stop is off by some
    micrometres, which a stack of `rate_n_per_mm` turns into load.
    """
    return gauge.resolution_n**2 / 12 + shaken(gauge, rate_n_per_mm) ** 2


def step_variance(gauge: Gauge, rate_n_per_mm: Array) -> Array:
    """Part of it (R) that readings again have alike, as a display rounds the same load the same.

    Notes
    -----
    What noise shakes from step to step does average out: the rounding error is a sawtooth of the
    load, and noise of a standard deviation s lowers its k-th harmonic, of variance
    step^2 / (2 pi^2 k^2), by exp(-2 pi^2 k^2 s^2 / step^2) (its Fourier series, and the mean of a
    cosine over a normal).
    """
    noise = shaken(gauge, rate_n_per_mm) / gauge.resolution_n
    left = np.exp(-4 * np.pi**2 * HARMONICS**2 * noise[:, None] ** 2) / HARMONICS**2
    alike: Array = gauge.resolution_n**2 / (2 * np.pi**2) * left.sum(1)
    return alike


def shaken(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Standard deviation in N of what differs from reading to reading: repeatability and stop."""
    return np.hypot(gauge.repeatability_n, np.asarray(rate_n_per_mm) * gauge.travel_stop_mm)
