from dataclasses import replace

import numpy as np
import pytest

from optimizer.bench import moves
from optimizer.bench.decide import HOPE, gains, next_move
from optimizer.bench.moves import Move
from optimizer.estimate.learn import learn, loads
from optimizer.model.job import Effort
from optimizer.model.readings import Reading
from tests.simulator.setup import (
    SHOES,
    WIDTH_N,
    disc_push_n,
    job_for,
    learned_task,
    packs_of,
    rig_for,
    task_for,
)
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0,) * SHOES
EFFORT = Effort()
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(SHOES)])
WORLD = World(sharp=True, instrument_sd_mm=0.002)


def advice(
    gaps_n,
    repeats=1,
    stop_at=0.9,
    rebuild=lambda: None,
    level=1.0,
    tolerance_n=None,
    effort=EFFORT,
    width_n=WIDTH_N,
):
    job = job_for(WORLD)
    if tolerance_n is not None:
        job = replace(job, target=replace(job.target, load_tolerance_n=tolerance_n))
    rig = rig_for(Truth.draw(WORLD, 7), job)
    mean = level * loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n.mean()
    readings = [
        Reading(number, s + 1, STACKS[s], "settled", mean + gaps_n[s])
        for number in range(1, repeats + 1)
        for s in range(SHOES)
    ]
    learned = learn(rig, readings, NO_SHIMS)
    task = learned_task(learned, job)
    return next_move(learned, task, STACKS, NO_SHIMS, WIDTH_N, rebuild, stop_at, effort)


def test_stacks_that_agree_stop():
    said = advice((0.0, 1.0, -1.0))
    assert said.kind == "stop"
    assert said.chance_now > 0.9


def test_how_sure_is_sure_can_be_chosen():
    assert advice((3.0, 0.0, -3.0), stop_at=0.6).kind == "stop"
    assert advice((3.0, 0.0, -3.0), stop_at=0.95).kind != "stop"


def test_readings_that_just_agree_are_read_again_before_anything_is_touched():
    said = advice((3.2, 0.0, -3.2))
    assert 0.5 < said.chance_now < 0.9  # the readings are 1.4 lbf apart, the truth may not be
    assert said.kind == "reread"
    assert said.chance_reread > 0.3


def test_reading_again_for_ever_is_not_advised():
    assert advice((6.0, 0.0, -6.0), repeats=12).kind == "swap"


def test_no_move_is_offered_that_gains_nothing():
    for repeats, gap in ((1, 4.3), (6, 4.3), (6, 4.5), (6, 6.0)):
        said = advice((gap, 0.0, -gap), repeats)
        offered = said.moves[1:] if said.kind == "swap" else said.moves
        assert all(gains(move, said.chance_now, said.chance_on_target) for move in offered)
    # where it is read again first, moves may be offered and none is advised
    assert replace(said, kind="reread").advised is replace(said, moves=()).advised is None


def test_far_apart_a_move_that_gains_is_made_and_nothing_left(monkeypatch):
    """Small chances all, but a rebuild betters what no reading does: it is not the end."""
    swap = Move((), STACKS, 0.002, 1.0, 1, (), 3.0, 30.0)
    anew = Move((), STACKS[::-1], 0.05, 1.0, 25, (), 13.5, 9.0)
    monkeypatch.setattr("optimizer.bench.decide.options", lambda *_, **__: [swap])
    monkeypatch.setattr("optimizer.bench.decide._rebuilt", lambda *_: anew)
    said = advice((45.0, 0.0, -45.0), repeats=3, rebuild=lambda: (STACKS, ((), (), ())))
    assert said.chance_now < 0.01
    assert (said.kind, said.moves[0]) == ("rebuild", anew)


def test_what_neither_a_move_nor_a_reading_betters_is_left_as_it_is(monkeypatch):
    monkeypatch.setattr("optimizer.bench.decide.options", lambda *_, **__: [])
    assert advice((4.3, 0.0, -4.3)).kind == "reread"
    said = advice((4.3, 0.0, -4.3), repeats=6)
    assert said.kind == "leave"
    assert said.chance_reread < HOPE


def test_stacks_far_apart_are_swapped():
    said = advice((20.0, 0.0, -10.0))
    assert said.kind == "swap"
    assert said.chance_now < 0.01
    best = said.moves[0]
    assert best.chance > 0.2
    # 3 minutes of which more than one in five certifies, against some 15 for all anew
    assert best.minutes == 3.0
    assert best.in_all < 15.0


def test_a_rebuild_is_offered_with_the_swaps_and_taken_where_only_it_reaches_the_target():
    anew = packs_of([np.arange(s, 27, 3) for s in range(SHOES)])

    def rebuild():
        return anew, ((),) * SHOES

    quick = Effort(build=0.1, reading=0.1)  # than which nothing is quicker
    said = advice((20.0, 0.0, -10.0), rebuild=rebuild, effort=quick)
    kinds = {bool(move.exchanges) for move in said.moves}
    assert kinds == {True, False}
    moved = next(move for move in said.moves if not move.exchanges)
    assert moved.discs_moved == 18  # of three alike stacks each keeps three discs of nine
    # far off a narrow target and no rebuild to be had: what agrees is left alone
    assert advice((0.0, 0.0, 0.0), level=1.2, tolerance_n=5.0).kind == "stop"


def test_off_target_a_rebuild_that_reaches_it_goes_before_stopping():
    job = job_for(WORLD)
    rig = rig_for(Truth.draw(WORLD, 7), job)
    softest = np.argsort(disc_push_n(task_for(rig.belief, job)))[:27]
    anew = packs_of([softest[s::SHOES] for s in range(SHOES)])
    before = learn(rig, (), NO_SHIMS)
    level = loads(before, anew, NO_SHIMS).mean_n.mean()
    mean = loads(before, STACKS, NO_SHIMS).mean_n.mean()
    assert mean - level > 8.0
    target = replace(job.target, load_n=float(level), load_tolerance_n=4.0)
    job = replace(job, target=target)
    readings = [Reading(1, s + 1, STACKS[s], "settled", mean) for s in range(SHOES)]
    learned = learn(rig, readings, NO_SHIMS)
    task = learned_task(learned, job)
    said = next_move(learned, task, STACKS, NO_SHIMS, WIDTH_N, lambda: (anew, ((),) * SHOES))
    assert said.chance_now > 0.9
    assert said.chance_on_target < 0.1
    assert said.kind == "rebuild"


@pytest.mark.parametrize("level", [0.92, 1.1])
def test_shoes_are_made_alike_also_where_no_move_reaches_the_target(level, monkeypatch):
    """Stacks 27 N apart were left as they stand, as no swap brings their mean to the target."""
    judged = []
    listed = moves.candidates
    monkeypatch.setattr(moves, "candidates", lambda ahead: judged.append(1) or listed(ahead))
    said = advice((15.0, 0.0, -12.0), level=level)
    assert said.chance_on_target < 0.1
    assert said.chance_now < 0.01
    assert said.kind == "swap"
    assert said.anywhere
    assert len(judged) == 1  # ranked twice, by other minutes: their chances are the same
    assert said.moves[0].to_come < 10.0


@pytest.mark.parametrize(
    ("chance", "on_target", "gaining"),
    [
        (0.5, 0.8, False),  # as it stands
        (0.6, 0.8, True),  # likelier to match, as near the target
        (0.6, 0.5, False),  # likelier to match, at the cost of the target
        (0.5, 0.9, True),  # nearer the target alone
        (0.55, 0.7, False),  # what one gains the other loses
    ],
)
def test_a_move_gains_in_both_chances_together_or_in_one_at_no_cost(chance, on_target, gaining):
    assert gains(Move((), (), chance, on_target, 2), 0.5, 0.8) == gaining


def test_the_move_of_fewest_minutes_comes_first_in_whatever_order_they_are_found(monkeypatch):
    found = [Move((), STACKS, 0.5, 0.95, 2, (), 3.0, to_come) for to_come in (8.0, 2.0, 5.0)]
    monkeypatch.setattr("optimizer.bench.decide.options", lambda *_, **__: list(found))
    said = advice((20.0, 0.0, -10.0), repeats=6)
    assert [move.to_come for move in said.moves] == [2.0, 5.0, 8.0]


def test_work_that_takes_longer_is_done_less_of():
    """Where reading takes long, one stack is taken apart and not two."""
    gaps = (8.0, 0.0, -8.0)
    quick, slow = (
        advice(gaps, effort=Effort(reading=reading, exchange=exchange))
        for reading, exchange in ((0.1, 0.1), (15.0, 0.1))
    )
    assert quick.kind == slow.kind == "swap"
    assert slow.moves[0].minutes == pytest.approx(15.0 + 0.1 * slow.moves[0].discs_moved)
    assert slow.moves[0].in_all > 10 * quick.moves[0].in_all
