"""Bulk loads agree with the stack mechanics, inside and outside the tabulated range."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.errors import MechanicsError
from optimizer.mechanics.bulk import bulk_loads, load_table
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS
from optimizer.mechanics.packet import Model, Packets, packets
from optimizer.mechanics.stack import Datum, Installed, Seating, free_height, stack_load


def some_packets(law: str) -> Packets:
    """40 singles and 20 pairs of invented discs, sharp and dressed."""
    rng = np.random.default_rng(1)
    flat = rng.choice([0.0, 0.12], 60)
    d = discs(20.0, 10.2, 0.9 + rng.normal(0, 0.01, 60), 0.5 + rng.normal(0, 0.015, 60), flat)
    order = np.argsort(-d.cone_height_mm[40:]) + 40
    pairs = np.stack([order, np.roll(order, -1)], axis=1)[:-1]
    singles = np.stack([np.arange(40), np.full(40, -1)], axis=1)
    return packets(d, np.concatenate([singles, pairs]), Model(LAWS[law], 1.02, 0.02, 0.03))


def stacks(count: int) -> np.ndarray:
    rng = np.random.default_rng(2)
    singles = np.argsort(rng.random((count, 40)), axis=1)[:, :4]
    pairs = 40 + np.argsort(rng.random((count, 19)), axis=1)[:, :2]
    return np.concatenate([singles, pairs], axis=1)


@pytest.mark.parametrize("law", sorted(LAWS))
@pytest.mark.parametrize("datum", [Seating(26.7), Installed(10.6)])
def test_bulk_loads_are_the_stack_loads(law: str, datum: Datum) -> None:
    p, rows = some_packets(law), stacks(300)
    travel = 1.45
    if isinstance(datum, Installed):
        travel = float(1.45 + 10.6 - free_height(p.take(rows)).mean())
    exact = stack_load(p.take(rows), datum, travel)
    table = load_table(p, datum, float(exact.mean()))
    assert table.sound.mean() > 0.9
    np.testing.assert_allclose(bulk_loads(table, rows, travel), exact, rtol=0, atol=1e-8)


def test_loads_far_from_the_table_are_exact_too() -> None:
    p, rows = some_packets("en16984"), stacks(60)
    datum = Seating(26.7)
    travel = np.linspace(0.0, 1.7, 60)
    exact = stack_load(p.take(rows), datum, travel)
    table = load_table(p, datum, 700.0)
    np.testing.assert_allclose(bulk_loads(table, rows, travel), exact, rtol=0, atol=1e-8)


def test_lengths_and_shims_may_differ_from_stack_to_stack() -> None:
    p, rows = some_packets("en16984"), stacks(50)
    height = free_height(p.take(rows))
    length = height - 0.2 + np.linspace(0, 0.4, 50)
    shims = np.linspace(0.5, 0.1, 50)
    exact = stack_load(p.take(rows), Installed(length), 0.9, shims)
    table = load_table(p, Installed(length), float(exact.mean()))
    np.testing.assert_allclose(bulk_loads(table, rows, 0.9, shims), exact, rtol=0, atol=1e-8)


def test_a_stack_pressed_solid_is_refused() -> None:
    p, rows = some_packets("en16984"), stacks(10)
    with pytest.raises(MechanicsError, match="solid"):
        bulk_loads(load_table(p, Seating(26.7), 700.0), rows, np.array([1.4] * 9 + [4.0]))
