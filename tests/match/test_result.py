"""What makes an answer better."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.match.result import Assigned, objective, rank
from optimizer.model.pattern import Pattern
from tests.bags import plain_job, seeded_bag, seeded_task


def test_an_odd_number_of_packets_must_be_the_steadier_by_far() -> None:
    """One end of such a stack rests on the inside diameter, where it tilts more easily."""
    task = seeded_task(seeded_bag(30, 1), plain_job())
    load = task.target_n
    even = Assigned(
        np.empty((3, 0, 3), dtype=int), ((), (), ()), (Pattern(8),) * 3, load, load, load, 1.1
    )
    odd = replace(even, patterns=(Pattern(9),) * 3, cost=1.0)
    assert objective(task, even) < objective(task, odd)
    assert rank(task, even) < rank(task, odd)
    assert objective(task, replace(even, cost=1.5)) > objective(task, odd)
    assert objective(task, replace(even, work_n=load + np.array([0.0, 0.0, 9.0]))) > objective(
        task, odd
    )
