"""The chances of one set: unlike shoes count by their weighted deviations."""

from types import SimpleNamespace

import numpy as np

from optimizer.estimate.loads import chance_of
from optimizer.estimate.probability import mean_within, spread_within


def test_unlike_shoes_count_by_weighted_deviation():
    weight, target = np.array([1.0, 1.4, 0.7]), np.array([890.0, 640.0, 1270.0])
    task = SimpleNamespace(weight=weight, target_n=target, load_tolerance_n=5.0)
    mean, cover = target + np.array([3.0, -4.0, 6.0]), np.diag([4.0, 9.0, 16.0])
    said = chance_of(task, mean, cover, 9.0)
    shift = np.array([3.0, -4.0 * 1.4, 6.0 * 0.7])
    around = np.diag([4.0, 9.0 * 1.4**2, 16.0 * 0.7**2])
    np.testing.assert_allclose(said.within_tolerance, spread_within(shift, around, 9.0))
    np.testing.assert_allclose(said.on_target, mean_within(shift, around, 5.0))
    assert 0.05 < said.within_tolerance < 0.95
