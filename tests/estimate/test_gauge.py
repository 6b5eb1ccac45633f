"""The doubt of one reading, against a simulated gauge."""

import numpy as np
import pytest

from optimizer.estimate.gauge import reading_variance, step_variance
from optimizer.model.job import Gauge


def test_the_variance_is_that_of_a_rounded_noisy_reading_at_an_unsure_stop():
    gauge = Gauge(resolution_n=4.0, repeatability_n=1.0, travel_stop_mm=0.002)
    rng = np.random.default_rng(0)
    true = rng.uniform(800, 900, 200_000)
    rate = 500.0
    shown = true + rng.normal(0, 1.0, true.size) + rate * rng.normal(0, 0.002, true.size)
    shown = np.round(shown / 4.0) * 4.0
    assert np.var(shown - true) == pytest.approx(float(reading_variance(gauge, rate)), rel=0.02)


@pytest.mark.parametrize("noise", [0.0, 0.15, 0.25, 0.5, 2.0])
def test_reading_again_leaves_what_the_display_rounds_alike(noise):
    """Means of three readings of one load, on a display that steps by 4 N."""
    gauge = Gauge(resolution_n=4.0, repeatability_n=4.0 * noise, travel_stop_mm=0.0)
    rng = np.random.default_rng(1)
    true = rng.uniform(800, 900, (100_000, 1))
    shown = np.round((true + rng.normal(0, 4.0 * noise, (true.size, 3))) / 4.0) * 4.0
    whole = float(reading_variance(gauge, 500.0))
    alike = float(step_variance(gauge, np.array([500.0]))[0])
    said = alike + (whole - alike) / 3
    assert np.var(shown.mean(1) - true[:, 0]) == pytest.approx(said, rel=0.02)
