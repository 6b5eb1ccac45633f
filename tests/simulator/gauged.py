"""Plays in which groups of three or single discs are gauged before the first stack is built."""

from __future__ import annotations

from itertools import count

import numpy as np

from optimizer.bench.groups import group_travel_mm, plan_groups
from optimizer.match.workspace import posed
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.ways.play import play
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Clock, Way
from tests.simulator.play import MOST_READINGS, STOP_AT, Played
from tests.simulator.sets import GROUP
from tests.simulator.setup import (
    SERIES,
    SHOES,
    WIDTH_N,
    bag_for,
    numbers_of,
    packs_of,
    rig_for,
    task_for,
)
from tests.simulator.truth import Truth

DEALT = 20_000
EACH = SERIES // GROUP


def first(truth: Truth, job: Job, size: int) -> Played:
    """Press groups of `size` discs (1: each alone), then build and go by the advice."""
    from tests.ways.kept import OnTruth

    start = StartingPoint.of(posed(job, bag_for(truth)))
    way = Way("gauged first", groups=size)
    went = play(start, way, OnTruth(truth), STOP_AT)  # type: ignore[arg-type]
    pressed = len(start.task.usable) // size
    moved = went.discs - pressed * size
    return Played(went.minutes, went.rounds, went.rounds, moved, pressed, went.within)


def by_rule(truth: Truth, job: Job, seed: int) -> Played:
    """Gauge groups of three, deal them by what was read, exchange whole groups until it agrees.

    A group in series carries the load of its stack, so a stack is as far off as its groups are on
    average. Where groups meet, the faces of their end discs settle anew.
    """
    rng = np.random.default_rng(seed)
    task = task_for(rig_for(truth, job).belief, job)
    planned = packs_of(list(np.arange(SHOES * SERIES).reshape(SHOES, SERIES)))
    groups = np.array([numbers_of((g,))[0] for g in plan_groups(task, planned, GROUP)])
    clock, travel, push = Clock(job.effort), group_travel_mm(task, GROUP, SERIES), []
    for group in groups:
        truth.build(group)
        push.append(truth.read_n(group, travel) / EACH)
    clock.presses(len(groups))
    dealt = rng.permuted(np.tile(np.arange(len(groups)), (DEALT, 1)), axis=1)
    sums = np.array(push)[dealt[:, : SHOES * EACH].reshape(DEALT, SHOES, EACH)].sum(-1)
    order = dealt[np.ptp(sums, axis=1).argmin()]
    clock.builds(SHOES)
    fresh, moved, seen = list(range(SHOES)), 0, np.zeros(SHOES)
    for rounds in count(1):
        stacks = groups[order[: SHOES * EACH]].reshape(SHOES, SERIES)
        for s in fresh:
            _join(truth, stacks[s])
            seen[s] = truth.read_n(stacks[s], shoe=s)
        clock.presses(len(fresh))
        if np.ptp(seen) <= WIDTH_N or rounds == MOST_READINGS:
            break
        order, fresh = _best_exchange(order, seen, np.array(push))
        moved += GROUP * len(fresh)
        clock.moves(GROUP * len(fresh), len(fresh))
    within = truth.spread_n(list(stacks)) <= WIDTH_N
    return Played(clock.minutes, rounds, rounds, moved, 0, within)


def _join(truth: Truth, stack: Array) -> None:
    """Put groups on each other: half of the scatter of their end discs is drawn anew."""
    ends = stack.reshape(-1, GROUP)[:, [0, -1]].ravel()
    anew = truth.rng.normal(0, truth.world.scatter, len(ends))
    truth.edges[ends] = np.sqrt(0.5) * truth.edges[ends] + np.sqrt(0.5) * anew


def _best_exchange(order: Array, seen_n: Array, push_n: Array) -> tuple[Array, list[int]]:
    """The exchange of two groups after which stacks should be nearest, and the stacks changed."""
    shoe = np.repeat(np.arange(SHOES + 1), [EACH] * SHOES + [len(order) - SHOES * EACH])
    i, j = np.nonzero(shoe[:, None] < shoe)
    after = np.zeros((len(i), SHOES + 1))
    gain, row = push_n[order[j]] - push_n[order[i]], np.arange(len(i))
    after[row, shoe[i]] += gain
    after[row, shoe[j]] -= gain
    best = int(np.ptp(seen_n + after[:, :SHOES], axis=1).argmin())
    new = order.copy()
    new[[i[best], j[best]]] = order[[j[best], i[best]]]
    return new, [int(s) for s in (shoe[i[best]], shoe[j[best]]) if s < SHOES]
