"""Lots: every set is matched on the exact mechanics and no disc is used twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.lots import Dealt, match_lots
from optimizer.match.result import is_loose
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import packets, residual_cone_height
from optimizer.mechanics.stack import free_height, stack_load
from optimizer.model.job import StackRules
from optimizer.units import N_PER_LBF
from tests.bags import plain_job, seeded_bag, seeded_task, with_rules

POUND = N_PER_LBF


def check(task: Task, lots: Dealt) -> None:
    """Recompute every stack from its discs alone."""
    used = [d for one in lots.sets for d in one.answer.stacks.ravel().tolist() if d >= 0]
    assert len(used) == len(set(used))
    assert set(used) <= set(task.usable.tolist())
    for one in lots.sets:
        p = packets(task.discs, one.answer.stacks, task.model)
        shims = one.answer.shims_mm
        work = stack_load(p, task.datum, task.travel_mm, shims)
        np.testing.assert_allclose(one.answer.work_n, work, rtol=1e-9)
        assert np.ptp(work * task.weight) <= POUND
        assert np.abs((work - task.target_n) * task.weight).max() <= task.load_tolerance_n
        share = 1 - residual_cone_height(p, work[:, None]) / np.where(p.free_mm > 0, p.free_mm, 1.0)
        assert share[p.free_mm > 0].max() <= task.rules.deflection_limit + 1e-9
    assert 1 <= len(lots.sets) <= lots.bound
    assert len({one.answer.patterns for one in lots.sets}) == 1


@pytest.mark.parametrize(
    ("sizes", "installed"), [((2,), None), ((1, 2), None), ((1, 2, 3), None), ((1, 2), 13.2)]
)
def test_all_sets_of_a_lot_match(sizes: tuple[int, ...], installed: float | None) -> None:
    job = plain_job(installed_mm=installed, rules=StackRules(packet_sizes=sizes))
    task = seeded_task(seeded_bag(240, 1), job)
    lots = match_lots(task, None, POUND, Limits())
    check(task, lots)
    assert len(lots.sets) / lots.bound >= 0.98


def test_shims_bring_the_sets_of_a_lot_to_their_target() -> None:
    rules = StackRules(packet_sizes=(1,), discs=(9, 9), shims_mm=(0.3,) * 3 + (0.1,) * 3)
    job = plain_job(installed_mm=11.7, target_n=800.0, rules=rules)
    task = seeded_task(seeded_bag(90, 2), job)
    lots = match_lots(task, None, POUND, Limits())
    check(task, lots)
    assert all(one.answer.shims == ((0.3,),) * 3 for one in lots.sets)
    assert "Each set takes the shims of the job." in lots.notes[0]
    with pytest.raises(CannotBuildError):
        match_lots(replace(task, rules=replace(rules, shims_mm=())), None, POUND, Limits())


def test_a_number_asked_for_is_kept_and_the_same_seed_gives_the_same_sets() -> None:
    task = seeded_task(seeded_bag(240, 2), plain_job())
    one, two = (match_lots(task, 3, POUND, Limits(), seed=5) for _ in range(2))
    assert len(one.sets) == one.bound == 3
    assert [s.answer for s in one.sets] == [s.answer for s in two.sets]


def test_unlike_shoes_and_a_height_window_are_kept() -> None:
    task = seeded_task(seeded_bag(240, 3), plain_job())
    unlike = replace(task, target_n=task.target_n * np.array([1.0, 1.02, 0.98]))
    check(unlike, match_lots(unlike, None, POUND, Limits()))
    free = match_lots(task, 4, POUND, Limits())
    first = free.sets[0].answer
    height = free_height(packets(task.discs, first.stacks, task.model)).mean()
    narrow = with_rules(plain_job(), free_height_mm=(height - 0.05, height + 0.05))
    low = seeded_task(seeded_bag(240, 3), narrow)
    lots = match_lots(low, 4, POUND, Limits())
    check(low, lots)
    for one in lots.sets:
        p = packets(low.discs, one.answer.stacks, low.model)
        assert np.abs(free_height(p) - height).max() <= 0.0501


def test_what_a_lot_cannot_give_is_refused() -> None:
    task = seeded_task(seeded_bag(120, 4), plain_job())
    with pytest.raises(CannotBuildError, match="lot of 120"):
        match_lots(replace(task, target_n=task.target_n * 20), 2, POUND, Limits())


def test_stopping_at_once_claims_no_set_that_does_not_match() -> None:
    task = seeded_task(seeded_bag(240, 5), plain_job())
    stopped = Limits(stopped=True)
    try:
        lots = match_lots(task, None, POUND, stopped)
    except CannotBuildError:
        return
    check(task, lots)


def lot(discs: int, seed: int, **job: object) -> tuple[Task, Dealt]:
    """Deal a lot to a job with a tolerance of 25 N and shims of many thicknesses."""
    on_hand = (0.05,) * 3 + (0.1,) * 3 + (0.15,) * 3 + (0.2,) * 3 + (0.3,) * 3 + (0.5,) * 3
    limit = job.pop("deflection_limit", 0.75)
    sizes = job.pop("packet_sizes", (1,))
    installed = job["installed_mm"] is not None
    rules = StackRules(sizes, deflection_limit=limit, shims_mm=on_hand if installed else ())
    task = seeded_task(seeded_bag(discs, seed), plain_job(tolerance_n=25.0, rules=rules, **job))
    return task, match_lots(task, None, POUND, Limits())


@pytest.mark.parametrize(
    ("seed", "sizes", "installed", "target"), [(9, (1,), 11.7, 771.0), (14, (1,), 13.2, 833.5)]
)
def test_every_set_is_aimed_at_the_target_where_shims_reach_it(
    seed: int, sizes: tuple[int, ...], installed: float, target: float
) -> None:
    task, lots = lot(300, seed, packet_sizes=sizes, installed_mm=installed, target_n=target)
    check(task, lots)
    work = np.concatenate([one.answer.work_n for one in lots.sets])
    # two shims that differ by the finest step on hand are some 20 N apart
    assert np.abs(work - target).max() <= 10


def test_a_set_above_the_target_keeps_the_deflection_limit_too() -> None:
    """Packets that bear the target alone were dealt to stacks that carry more."""
    for seed in range(3):
        task, lots = lot(
            150,
            seed,
            packet_sizes=(1, 2, 3),
            deflection_limit=0.6,
            installed_mm=None,
            target_n=700.0 + 10 * seed,
        )
        check(task, lots)
        assert len(lots.sets) / lots.bound >= 0.85


def test_sets_that_press_and_sets_that_hang_loose_are_never_mixed() -> None:
    for seed in range(5):
        task, lots = lot(150, seed, packet_sizes=(1, 2), installed_mm=11.7, target_n=780.0)
        shims = lots.sets[0].answer.shims_mm
        datum = task.datum
        assert isinstance(datum, Installed)
        shimmed = replace(task, datum=Installed(datum.length_mm - shims))
        assert len({is_loose(shimmed, one.answer) for one in lots.sets}) == 1
