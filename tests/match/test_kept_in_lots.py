"""What a job says of single discs holds in a lot as well: use, leave and together."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.lots import Dealt, match_lots
from optimizer.match.plan import left
from optimizer.model.job import StackRules
from optimizer.units import N_PER_LBF
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.match.test_lots import check

POUND = N_PER_LBF


def named(*numbers: int) -> tuple[str, ...]:
    return tuple(f"D{number + 1:02d}" for number in numbers)


def stacks(lots: Dealt) -> list[set[int]]:
    return [set(stack[stack >= 0].tolist()) for one in lots.sets for stack in one.answer.stacks]


def posed(discs: int, seed: int, **rules: object) -> Task:
    return seeded_task(seeded_bag(discs, seed), plain_job(rules=StackRules(**rules)))


def test_discs_to_use_are_in_sets_and_those_to_leave_are_not() -> None:
    use, leave = (3, 50, 77, 141, 200), (4, 5, 6)
    task = posed(240, 1, use=named(*use), leave=named(*leave))
    for sets in None, 2:
        lots = match_lots(task, sets, POUND, Limits())
        check(task, lots)
        dealt = set().union(*stacks(lots))
        assert dealt >= set(use)
        assert not dealt & set(leave)
    assert len(lots.sets) == 2


@pytest.mark.parametrize(("sizes", "target"), [((1,), 690.0), ((1, 2), 890.0), ((1, 2, 3), 890.0)])
def test_groups_of_a_lot_stay_under_one_shoe(sizes: tuple[int, ...], target: float) -> None:
    """Groups of two to four discs of a lot that has loose ones too; asked ones are in a set."""
    groups = [tuple(range(k, k + 2 + k % 3)) for k in range(0, 100, 5)]
    together = tuple(named(*group) for group in groups)
    rules = StackRules(packet_sizes=sizes, use=named(0, 51), together=together)
    task = seeded_task(seeded_bag(240, 2), plain_job(target_n=target, rules=rules))
    lots = match_lots(task, None, POUND, Limits())
    check(task, lots)
    assert len(lots.sets) / lots.bound >= 0.9
    dealt = stacks(lots)
    kept = [group for group in groups if any(set(group) <= stack for stack in dealt)]
    assert all(not stack & set(g) for g in groups if g not in kept for stack in dealt)
    assert {0, 51} <= set().union(*dealt)
    assert len(kept) >= 15


def test_a_lot_that_is_all_groups_is_dealt_group_by_group() -> None:
    """As gauged in threes: 81 groups and nothing loose."""
    groups = tuple(named(k, k + 1, k + 2) for k in range(0, 243, 3))
    rules = StackRules((1,), discs=(6, 9), together=groups)
    task = seeded_task(seeded_bag(243, 3), plain_job(target_n=685.0, rules=rules))
    lots = match_lots(task, None, POUND, Limits())
    check(task, lots)
    assert len(lots.sets) / lots.bound >= 0.9
    for stack in stacks(lots):
        assert {d // 3 for d in stack} == {d // 3 for d in stack if d % 3 == 0}
        assert len(stack) == 3 * len({d // 3 for d in stack})


def test_a_disc_that_no_set_can_hold_is_named() -> None:
    bag = seeded_bag(120, 4)
    odd = bag.discs[7]
    discs = list(bag.discs)
    discs[7] = type(odd)(**{**vars(odd), "cone_height_mm": 0.05})
    job = plain_job(target_n=600.0, rules=StackRules((1,), discs=(6, 8), use=named(7)))
    task = seeded_task(type(bag)(bag.path, tuple(discs)), job)
    with pytest.raises(CannotBuildError, match="No set that matches holds D08"):
        match_lots(task, None, POUND, Limits())


def test_what_is_kept_together_is_the_same_for_the_same_seed() -> None:
    groups = tuple(named(k, k + 1) for k in range(0, 60, 2))
    task = posed(180, 5, together=groups)
    one, two = (match_lots(task, 4, POUND, Limits(), seed=3) for _ in range(2))
    assert [s.answer for s in one.sets] == [s.answer for s in two.sets]
    assert len(one.sets) == 4
    assert np.all([s.answer.spread_n() <= POUND for s in one.sets])


def test_many_groups_left_in_the_bag_are_told_in_one_line() -> None:
    groups = tuple(named(k, k + 1) for k in range(0, 40, 2))
    job = plain_job(rules=StackRules(packet_sizes=(1,), together=groups))
    names = tuple(disc.name for disc in seeded_bag(40, 1).discs)
    [said] = left(job, names)
    assert "20 were left in the bag, D01+D02, D03+D04, D05+D06, D07+D08 and others" in said
    assert len(left(job, names[:6])) == 3
