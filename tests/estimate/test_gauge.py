"""The doubt of one reading, against a simulated gauge."""

import numpy as np
import pytest

from optimizer.estimate.gauge import reading_variance
from optimizer.model.job import Gauge


def test_the_variance_is_that_of_a_rounded_noisy_reading_at_an_unsure_stop():
    gauge = Gauge(resolution_n=4.0, repeatability_n=1.0, travel_stop_mm=0.002)
    rng = np.random.default_rng(0)
    true = rng.uniform(800, 900, 200_000)
    rate = 500.0
    shown = true + rng.normal(0, 1.0, true.size) + rate * rng.normal(0, 0.002, true.size)
    shown = np.round(shown / 4.0) * 4.0
    assert np.var(shown - true) == pytest.approx(float(reading_variance(gauge, rate)), rel=0.02)
