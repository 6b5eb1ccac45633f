"""Dealing on arrays alone: nothing is lost, stacks come even, the sum is met."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.match.dealing import Items, choose, deal_sets, deal_stacks


def units(values: np.ndarray, kind: np.ndarray, counts: dict[int, int]) -> Items:
    """Like stacks with one row, whose room is the mean stack."""
    room = sum(n * values[kind == k].mean() for k, n in counts.items())
    return Items(
        values[:, None, None], kind, np.array([[room]]), np.array([0.2]), np.array([False])
    )


@pytest.mark.parametrize("count", [54, 270, 2700])
def test_a_lot_of_singles_is_evened_out_without_losing_a_unit(count: int) -> None:
    rng = np.random.default_rng(count)
    value = 100 + rng.normal(0, 6, count)
    lot = units(value, np.zeros(count, dtype=int), {0: 9})
    shoe = np.zeros(count // 9, dtype=int)
    place, off = deal_stacks(lot, np.arange(count), {0: 9}, shoe, rng, lambda: False)
    assert sorted(place.ravel()) == list(range(count))
    np.testing.assert_allclose(off[:, 0], value[place].sum(1) - lot.room[0, 0])
    assert np.abs(off).max() <= 0.2


def test_kinds_are_never_mixed_up_and_spares_bring_the_level_in() -> None:
    rng = np.random.default_rng(2)
    kind = np.repeat([1, 2], [200, 60])
    value = np.where(kind == 1, 100.0, 50.0) + rng.normal(0, 3, 260)
    lot = units(value, kind, {1: 4, 2: 1})
    high = Items(lot.values, kind, lot.room + 3.0, lot.slack, lot.free)
    sets = deal_sets(high, {1: 4, 2: 1}, 3, 12, 0.4, 0.4, rng)
    assert len(sets) == 12
    assert len(np.unique(sets)) == sets.size
    assert (np.sort(kind[sets], axis=-1) == [1, 1, 1, 1, 2]).all()
    sums = value[sets].sum(-1)
    assert np.abs(sums - high.room[0, 0]).max() <= 0.4


def test_sets_that_do_not_match_are_not_returned() -> None:
    value = np.array([1.0, 1.0, 1.0, 5.0, 5.0, 9.0])
    lot = units(value, np.zeros(6, dtype=int), {0: 1})
    sets = deal_sets(lot, {0: 1}, 3, 2, 0.5, 10.0, np.random.default_rng(0))
    assert len(sets) == 1
    assert (value[sets] == 1.0).all()


def test_the_choice_meets_a_sum_and_takes_little_cost() -> None:
    rng = np.random.default_rng(3)
    value, cost = rng.normal(10, 1, 400), rng.choice([1.0, 4.0], 400)
    one = np.zeros(400, dtype=int)
    chosen = choose(value, cost, one, {0: 150}, 150 * 10.3)
    assert len(np.unique(chosen)) == 150
    assert value[chosen].sum() == pytest.approx(150 * 10.3, abs=1.0)
    assert cost[chosen].mean() < 0.7 * cost.mean()


def test_unlike_shoes_keep_their_own_rooms() -> None:
    rng = np.random.default_rng(4)
    value = 100 + rng.normal(0, 6, 180)
    values = np.stack([value, 1.1 * value, 0.9 * value], axis=1)[:, :, None]
    room = np.array([[900.0], [990.0], [810.0]])
    lot = Items(values, np.zeros(180, dtype=int), room, np.array([0.3]), np.array([False]))
    shoe = np.tile(np.arange(3), 6)
    _, off = deal_stacks(lot, np.arange(180), {0: 9}, shoe, rng, lambda: False)
    assert np.abs(off).max() <= 0.3
