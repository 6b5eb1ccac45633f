import numpy as np
import pytest

from optimizer.mechanics.disc import discs, k1, k2, k3, lever_ratio


def test_k1_at_two_is_the_published_number():
    # EN 16984:2016, equation for K1: arithmetic
    assert k1(np.array(2.0)) == pytest.approx(0.694333, abs=5e-7)


def test_k2_and_k3_at_two():
    # EN 16984:2016, tables of K2 and K3 at De/Di = 2 (memory)
    assert k2(np.array(2.0)) == pytest.approx(1.220, abs=5e-4)
    assert k3(np.array(2.0)) == pytest.approx(1.378, abs=5e-4)


def test_flats_shorten_the_lever_arm():
    # (De - Di) / ((De - 2w) - (Di + 2w)) by hand: 10 / (19.8 - 10.2)
    assert lever_ratio(discs(20, 10, 1, 0.5, 0.1)) == pytest.approx(10 / 9.6)
    assert lever_ratio(discs(20, 10, 1, 0.5)) == 1


def test_scalars_and_arrays_broadcast_and_are_taken_by_index():
    d = discs(20, 10, np.array([0.8, 0.9, 1.0]), 0.5)
    assert d.od_mm.shape == (3,)
    taken = d.take(np.array([[2, 0], [1, 1]]))
    np.testing.assert_array_equal(taken.thickness_mm, [[1.0, 0.8], [0.9, 0.9]])
