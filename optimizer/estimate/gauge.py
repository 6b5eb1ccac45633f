"""How far one reading of the gauge can be off, and what readings again cannot average out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
    return gauge.resolution_n**2 / 12 + _shaken(gauge, rate_n_per_mm) ** 2


def reading_covariance(gauge: Gauge, rate_n_per_mm: Array, again: NDArray[np.bool_]) -> Array:
    """Covariance (R, R) in N^2 of readings, `again` (R, R) where two are of one load.

    Notes
    -----
    A display rounds the same load the same way each time, so that reading again does not average
    its step. What noise shakes from step to step does average: the rounding error is a sawtooth of
    the load, and noise of a standard deviation s lowers its k-th harmonic, of variance
    step^2 / (2 pi^2 k^2), by exp(-2 pi^2 k^2 s^2 / step^2) (its Fourier series, and the mean of a
    cosine over a normal).
    """
    noise = _shaken(gauge, rate_n_per_mm) / gauge.resolution_n
    left = np.exp(-4 * np.pi**2 * HARMONICS**2 * noise[:, None] ** 2) / HARMONICS**2
    same = gauge.resolution_n**2 / (2 * np.pi**2) * left.sum(1)
    covariance = np.where(again, np.sqrt(np.outer(same, same)), 0.0)
    np.fill_diagonal(covariance, reading_variance(gauge, rate_n_per_mm))
    return covariance


def _shaken(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Standard deviation in N of what differs from reading to reading: repeatability and stop."""
    return np.hypot(gauge.repeatability_n, np.asarray(rate_n_per_mm) * gauge.travel_stop_mm)
