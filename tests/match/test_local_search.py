"""Descents: what exchanges of whole packets and shakes add to exchanges of single discs."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.match import minimise_variance as search
from optimizer.match.local_search import Descent
from optimizer.model.pattern import Pattern
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.match.test_branch_and_bound import lead
from tests.speed.cases import Kind, task_of

PAIRS = Kind("pairs", (2,), Pattern(0, 5), 0.9, 0.5, 0.76)


def test_where_no_exchange_of_single_discs_helps_one_of_whole_packets_may() -> None:
    task = task_of(PAIRS, 36, 1)
    descent = Descent(task, lead(task).subproblem)
    every = descent.whole
    descent.whole = every[:0]
    dealt = descent.deal(np.random.default_rng(0), 30)
    stuck, before = descent.run(dealt, 1.0, 0.0, lambda: False)
    descent.whole = every
    _, after = descent.run(stuck, 1.0, 0.0, lambda: False)
    assert (after <= before * (1 + 1e-9)).all()
    assert (after < 0.9 * before).any()


def test_descents_that_are_shaken_end_at_less_variance(monkeypatch: pytest.MonkeyPatch) -> None:
    task = seeded_task(seeded_bag(40, 2), plain_job())
    first = lead(task)
    descent = Descent(task, first.subproblem)
    costs = []
    for shakes in (0, search.SHAKES):
        monkeypatch.setattr(search, "SHAKES", shakes)
        rng = np.random.default_rng(0)
        found = search.least_by_descents(descent, first, rng, Limits())
        costs.append(first.subproblem.variance_n2(found))
    assert costs[1] < costs[0]
    assert costs[1] > first.bound
