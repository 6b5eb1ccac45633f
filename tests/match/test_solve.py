"""Match as a whole: rules are kept, numbers are exact, stops keep the best."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, pairwise

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match import solve
from optimizer.match.bounds import Relaxation
from optimizer.match.check import broken
from optimizer.match.packets import candidate_members
from optimizer.match.result import Assigned
from optimizer.match.solve import MOST_DISCS, Matched, match, thinned
from optimizer.mechanics.packet import packets, residual_cone_height
from optimizer.mechanics.stack import free_height, stack_load
from optimizer.mechanics.state import greatest_share
from optimizer.model.job import StackRules
from optimizer.units import N_PER_LBF
from tests.bags import exact_shoe, plain_job, seeded_bag, seeded_task, with_rules

TENTH = 0.1 * N_PER_LBF


def solved(task: Task, seconds: float = 60.0, seed: int = 0) -> Matched:
    return match(task, Limits(seconds), seed)


def discs_of(answer: Assigned) -> list[list[int]]:
    return [stack[stack >= 0].tolist() for stack in answer.stacks]


@pytest.fixture(autouse=True)
def a_tenth_of_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept here is kept by the first set found and by the last alike."""
    monkeypatch.setattr(solve, "WORK", solve.WORK // 10)


@pytest.mark.parametrize(("law", "installed"), [("en16984", None), ("thick", 13.2)])
def test_forty_discs_match_to_a_tenth_of_a_pound(law: str, installed: float | None) -> None:
    job = plain_job(installed_mm=installed)
    job = replace(job, model=replace(job.model, law=law))
    task = seeded_task(seeded_bag(40, 1), job)
    answer = solved(task).answer
    assert answer.spread_n() <= TENTH
    assert np.ptp(answer.worn_n) <= 1.02 * TENTH
    assert np.ptp(answer.rest_n) <= 1.02 * 3 * TENTH
    p = packets(task.discs, answer.stacks, task.model)
    np.testing.assert_allclose(answer.work_n, stack_load(p, task.datum, task.travel_mm), rtol=1e-9)
    share = 1 - residual_cone_height(p, task.target_n[:, None]) / np.where(
        p.free_mm > 0, p.free_mm, 1
    )
    assert share[p.free_mm > 0].max() <= 0.75
    used = list(chain.from_iterable(discs_of(answer)))
    assert len(used) == len(set(used))
    assert len(set(answer.patterns)) == 1


def test_where_the_most_promising_arrangement_holds_no_set_the_next_is_searched(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real, seen = solve._in_subproblem, []

    def first_fails(task: Task, lead: Relaxation, *rest: object) -> object:
        seen.append(lead.subproblem.patterns)
        return (None, lead.bound) if len(seen) == 1 else real(task, lead, *rest)

    monkeypatch.setattr(solve, "_in_subproblem", first_fails)
    job = plain_job(rules=StackRules(packet_sizes=(1, 2)))
    found = solved(seeded_task(seeded_bag(36, 0), job))
    assert found.answer.patterns in seen[1:]
    assert found.answer.patterns != seen[0]
    assert found.answer.spread_n() <= TENTH
    assert found.notes == ()  # at rest and worn too, as asked first


def test_packets_never_have_a_valley() -> None:
    task = seeded_task(seeded_bag(22, 2), plain_job(rules=StackRules(packet_sizes=(1, 2, 3))))
    answer = solved(task).answer
    cone = task.discs.cone_height_mm
    for packet in answer.stacks.reshape(-1, 3):
        assert all(cone[a] >= cone[b] for a, b in pairwise(packet[packet >= 0]))


def test_rules_on_named_discs_are_kept() -> None:
    rules = StackRules(
        use=("D01", "D02"), leave=("D03",), together=(("D04", "D05"),), packet_sizes=(1, 2)
    )
    job = plain_job(rules=rules)
    answer = solved(seeded_task(seeded_bag(30, 3), job)).answer
    stacks = discs_of(answer)
    used = set(chain.from_iterable(stacks))
    assert {0, 1} <= used
    assert 2 not in used
    assert all(({3, 4} <= set(s)) or not ({3, 4} & set(s)) for s in stacks)
    assert answer.spread_n() <= TENTH


def test_height_and_count_windows_are_kept() -> None:
    free = solved(seeded_task(seeded_bag(40, 4), plain_job())).answer
    task = seeded_task(seeded_bag(40, 4), plain_job())
    height = free_height(packets(task.discs, free.stacks, task.model))
    count = len(discs_of(free)[0])
    narrow = with_rules(plain_job(), free_height_mm=(0.0, float(height.max()) - 0.02))
    low = seeded_task(seeded_bag(40, 4), narrow)
    answer = solved(low).answer
    lower = free_height(packets(low.discs, answer.stacks, low.model))
    assert lower.max() <= height.max() - 0.02
    other = with_rules(plain_job(), discs=(1, count - 1))
    fewer = solved(seeded_task(seeded_bag(40, 4), other)).answer
    assert len(discs_of(fewer)[0]) < count


def test_shims_make_up_for_a_deeper_seat() -> None:
    rules = StackRules(packet_sizes=(1, 2), shims_mm=(0.3, 0.1))
    job = plain_job(installed_mm=13.2, rules=rules)
    deep = exact_shoe(1.524, 1.7, seat_depth_mm=0.3)
    job = replace(job, shoes=(job.shoes[0], job.shoes[1], deep))
    answer = solved(seeded_task(seeded_bag(40, 5), job)).answer
    assert answer.spread_n() <= TENTH
    assert answer.shims[2] == (0.3,) or answer.shims == ((), (), ())


def test_unlike_targets_are_met_each() -> None:
    job = plain_job()
    task = seeded_task(seeded_bag(40, 6), job)
    task = replace(task, target_n=task.target_n * np.array([0.98, 1.0, 1.02]))
    answer = solved(task).answer
    assert np.abs(answer.work_n / task.target_n - 1).max() <= TENTH / task.target_n.min()


def test_the_same_seed_gives_the_same_answer() -> None:
    task = seeded_task(seeded_bag(24, 7), plain_job())
    assert solved(task, seed=3).answer == solved(task, seed=3).answer


def test_a_stop_keeps_the_best_so_far() -> None:
    task = seeded_task(seeded_bag(40, 8), plain_job())
    limits = Limits(60.0)

    def stop_after_first(stage: str, share: float) -> None:
        limits.stopped = stage == "matching stacks"

    answer = match(task, limits, 0, stop_after_first).answer
    assert len(answer.stacks) == 3
    assert answer.spread_n() <= 2 * task.load_tolerance_n


def test_five_shoes() -> None:
    task = seeded_task(seeded_bag(50, 9), plain_job(shoes=5))
    answer = solved(task).answer
    assert len(answer.stacks) == 5
    assert answer.spread_n() <= TENTH


def test_stacks_press_at_rest_where_shims_can_make_them() -> None:
    shims = (0.3,) * 3 + (0.2,) * 3 + (0.1,) * 3
    rules = StackRules(packet_sizes=(1, 2), shims_mm=shims)
    task = seeded_task(seeded_bag(40, 2), plain_job(installed_mm=11.2, rules=rules))
    answer = solved(task).answer
    assert answer.rest_n.min() > 0.02 * task.target_n.min()
    assert answer.spread_n() <= TENTH


def test_discs_of_one_size_are_nested_whatever_their_own_diameters() -> None:
    bag = seeded_bag(40, 3)
    rng = np.random.default_rng(0)
    measured = tuple(
        replace(disc, od_mm=20.0 + rng.normal(0, 0.02), id_mm=10.2 + rng.normal(0, 0.02))
        for disc in bag.discs
    )
    rules = StackRules(packet_sizes=(2,))
    task = seeded_task(replace(bag, discs=measured), plain_job(rules=rules))
    assert len(candidate_members(task)) == 40 * 39 // 2


def test_of_a_bag_of_hundreds_some_discs_are_looked_at_and_it_is_said() -> None:
    rules = StackRules(packet_sizes=(1, 2), use=("D150", "D299"))
    task = seeded_task(seeded_bag(300, 4), plain_job(rules=rules))
    few = thinned(task)
    assert len(few.usable) == MOST_DISCS
    assert {149, 298} <= set(few.usable.tolist())
    assert thinned(few) is few
    found = match(replace(task, use=task.use[:0]), Limits())
    assert found.variance_gap is None
    assert "only 100 of the 300 usable discs were looked at" in found.notes[-1]
    check = broken(task, found.answer)
    assert all("must be used" in words for words in check)


@pytest.mark.parametrize(("discs", "sizes"), [(30, (1, 2)), (14, (1, 2))])
def test_a_limit_on_a_worn_drum_is_kept_where_there_is_one(discs: int, sizes: tuple) -> None:
    job = plain_job(worn_mm=1.9, rules=StackRules(packet_sizes=sizes))
    if discs < 20:  # few enough to look at every stack
        job = replace(job, shoes=job.shoes[:2])
    task = seeded_task(seeded_bag(discs, 4), job)

    def worn(answer: Assigned) -> float:
        p = packets(task.discs, answer.stacks, task.model)
        return float(greatest_share(p, answer.worn_n).max())

    free = solved(task).answer
    limit = round(worn(free) - 0.02, 3)
    bound = replace(task, rules=replace(task.rules, worn_limit=limit))
    answer = solved(bound).answer
    assert worn(answer) <= limit + 1e-6
    assert not list(broken(bound, answer))
    assert any("on a worn drum" in said for said in broken(bound, free))
    with pytest.raises(CannotBuildError, match="on a worn drum that binds"):
        solved(replace(task, rules=replace(task.rules, worn_limit=0.3)))
