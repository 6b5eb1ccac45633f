"""What a reading tells, how sure that makes a set, and what counts as a gain."""

from types import SimpleNamespace

import numpy as np
import pytest

from optimizer.bench import decide
from optimizer.bench.decide import GAIN, certified, gains, told_n2
from optimizer.bench.moves import Move
from optimizer.estimate.gauge import reading_variance, step_variance
from optimizer.estimate.probability import SEARCHED, spread_within
from optimizer.model.job import Gauge


@pytest.mark.parametrize(
    ("chance", "on_target", "gaining"),
    [
        (0.515, 0.795, True),  # less than a whole per cent of the target is no cost
        (0.511, 0.8 - GAIN, False),  # a whole one is
    ],
)
def test_no_cost_is_less_than_is_shown(chance, on_target, gaining):
    assert gains(Move((), (), chance, on_target, 2), 0.5, 0.8) == gaining
    assert gains(Move((), (), chance, on_target, 2), 0.5, 0.8, anywhere=True)


def state(rounded):
    """Something learned of seven numbers and two loads that hang on them; all invented."""
    rng = np.random.default_rng(3)
    root = rng.normal(size=(7, 7))
    gauge = Gauge(4.0, 1.0)
    slope, rounding = rng.normal(size=(3, 7)), np.zeros((3, 7))
    rounding[rounded, [4 + at for at in rounded]] = 1.0
    slope[:, 4:] = 0.0
    cover = root @ root.T
    own = np.array([2.0, 0.5, 3.0])
    loads = slope @ cover @ slope.T + np.diag(own)
    learned = SimpleNamespace(covariance=cover, rig=SimpleNamespace(gauge=gauge))
    rate = np.array([300.0, 310.0, 290.0])
    after = SimpleNamespace(
        mean_n=np.array([890.0, 893.0, 888.0]), covariance_n2=loads, slope=slope,
        rounding=rounding, rate=rate,
    )  # fmt: skip
    return learned, after, own


@pytest.mark.parametrize("rounded", [[], [0, 2]])
def test_what_a_reading_tells_is_the_textbook_update(rounded):
    """Loads L and readings R are of one normal vector, and C_LR C_RR^-1 C_RL is what R tells."""
    learned, after, own = state(rounded)
    noise = reading_variance(learned.rig.gauge, after.rate)
    for at in rounded:
        noise[at] -= step_variance(learned.rig.gauge, after.rate)[at]
    whole = np.zeros((13, 13))
    whole[:7, :7] = learned.covariance
    whole[7:, 7:] = np.diag([*own, *noise])
    load = np.hstack([after.slope, np.eye(3), np.zeros((3, 3))])
    read = load + np.hstack([after.rounding, np.zeros((3, 3)), np.eye(3)])
    both = load @ whole @ read.T
    wanted = both @ np.linalg.inv(read @ whole @ read.T) @ both.T
    np.testing.assert_allclose(told_n2(learned, after), wanted, rtol=1e-10)


def test_unlike_shoes_are_certified_by_their_weighted_loads(monkeypatch):
    learned, after, _ = state([])
    monkeypatch.setattr(decide, "told_n2", lambda learned, after: 0 * after.covariance_n2)
    weight = np.array([1.0, 1.3, 0.8])
    after = SimpleNamespace(**vars(after) | {"mean_n": np.array([10.0, 8.0, 11.0])})
    cover = after.covariance_n2 * np.outer(weight, weight)
    chance = float(spread_within(after.mean_n * weight, cover, 6.0, SEARCHED))
    assert 0.05 < chance < 0.95
    assert certified(learned, after, weight, 6.0, chance - 1e-9) == 1.0
    assert certified(learned, after, weight, 6.0, chance + 1e-9) == 0.0


def test_a_set_that_a_reading_settles_either_way_is_certified_as_often_as_it_is_so():
    """With a reading that tells nearly all, the chance of certainty is the chance of the set."""
    learned, after, _ = state([])
    learned.rig.gauge = Gauge(1e-3, 1e-3, 0.0)
    mean = np.array([892.0, 890.0, 889.0])
    after = SimpleNamespace(**vars(after) | {"mean_n": mean})
    chance = float(spread_within(mean, after.covariance_n2, 6.0))
    said = certified(learned, after, np.ones(3), 6.0, 0.9)
    assert 0.1 < chance < 0.9
    assert said == pytest.approx(chance, abs=3 * np.sqrt(chance * (1 - chance) / decide.FUTURES))
