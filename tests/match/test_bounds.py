"""The relaxation: two solvers of different makers agree, and what cannot be is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.match import bounds as bound
from optimizer.match.bounds import relax
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.match.test_branch_and_bound import lead


@pytest.mark.parametrize("seed", range(4))
def test_two_solvers_give_the_same_bound(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # GLOP of ortools against HiGHS of scipy
    task = seeded_task(seeded_bag(30, seed), plain_job())
    subproblem, half = lead(task).subproblem, task.resolution_n / 2
    ours = relax(task, subproblem, half)
    assert ours is not None
    monkeypatch.setattr(bound, "SolveStatus", replace_status())
    other = relax(task, subproblem, half)
    assert other is not None
    assert ours.bound == pytest.approx(other.bound, rel=1e-8)
    for one in (ours, other):  # what is taken adds nothing; nothing taken is negative
        assert np.abs((one.added * one.share).max()) < 1e-6 * one.bound
        assert one.share.min() >= -1e-9


def replace_status() -> object:
    """No status that the first solver could give."""

    class Status:
        OPTIMAL = INFEASIBLE = None

    return Status


def test_what_no_shares_can_do_is_told_by_both(monkeypatch: pytest.MonkeyPatch) -> None:
    task = seeded_task(seeded_bag(24, 1), plain_job())
    subproblem, half = lead(task).subproblem, task.resolution_n / 2
    work, *others = subproblem.rows
    far = replace(subproblem, rows=(replace(work, room_n=work.room_n * 3), *others))
    assert relax(task, far, half) is None
    monkeypatch.setattr(bound, "SolveStatus", replace_status())
    assert relax(task, far, half) is None
