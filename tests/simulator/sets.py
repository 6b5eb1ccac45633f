"""Sets built once, and what becomes of them: first builds, odds, and the advice."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.bench.groups import choose_groups, group_travel_mm, plan_groups, promised
from optimizer.estimate.learn import Learned, learn, loads
from optimizer.estimate.probability import spread_within
from optimizer.mechanics.disc import Array
from optimizer.model.readings import Reading
from tests.simulator.setup import (
    SERIES,
    SHOES,
    WIDTH_N,
    deal,
    disc_push_n,
    first_assignment,
    job_for,
    learned_task,
    numbers_of,
    packs_of,
    rig_for,
    task_for,
)
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0,) * SHOES
GROUP = 3


@dataclass(frozen=True)
class Outcome:
    """The odds said of a set and whether its true spread was within tolerance."""

    odds: float
    within: bool


def _outcome(truth: Truth, learned: Learned, stacks: list[Array]) -> Outcome:
    for stack in stacks:
        truth.build(stack)
    said = loads(learned, packs_of(stacks), NO_SHIMS)
    odds = float(spread_within(said.mean_n, said.covariance_n2, WIDTH_N))
    return Outcome(odds, truth.spread_n(stacks) <= WIDTH_N)


def first_builds(world: World, seed: int) -> dict[str, Outcome]:
    """One bag assigned in four ways, each built once."""
    truth, job = Truth.draw(world, seed), job_for(world)
    rig = rig_for(truth, job)
    task = task_for(rig.belief, job)
    learned = learn(rig, (), NO_SHIMS)
    rng = np.random.default_rng(seed)
    by_chance = first_assignment(rig, job)
    ways = {
        "by chance": by_chance,
        "predicted spread alone": deal(task, seed),
        "equal height": _equal_height(truth, rng),
        "random": list(rng.permutation(world.discs)[: SHOES * SERIES].reshape(SHOES, SERIES)),
    }
    return {name: _outcome(truth, learned, stacks) for name, stacks in ways.items()}


def _equal_height(truth: Truth, rng: np.random.Generator) -> list[Array]:
    """Stacks of one free height as measured, as is common practice."""
    dealt = rng.permuted(np.tile(np.arange(truth.world.discs), (20_000, 1)), axis=1)
    dealt = dealt[:, : SHOES * SERIES].reshape(-1, SHOES, SERIES)
    height = (truth.measured_t_mm + truth.measured_h_mm)[dealt].sum(-1)
    return list(dealt[np.ptp(height, axis=1).argmin()])


def odd_sets(world: World, seed: int, sets: int = 5) -> list[Outcome]:
    """Sets with predicted spreads from nothing to twice the tolerance, each of its own bag."""
    return [_odd_set(world, sets * seed + k) for k in range(sets)]


def _odd_set(world: World, seed: int) -> Outcome:
    truth, job = Truth.draw(world, seed), job_for(world)
    rig = rig_for(truth, job)
    learned = learn(rig, (), NO_SHIMS)
    push = disc_push_n(task_for(rig.belief, job))
    rng = np.random.default_rng(seed)
    dealt = rng.permuted(np.tile(np.arange(world.discs), (4000, 1)), axis=1)
    dealt = dealt[:, : SHOES * SERIES].reshape(-1, SHOES, SERIES)
    spread = np.ptp(push[dealt].sum(-1), axis=1)
    row = int(np.abs(spread - rng.uniform(0, 2.0 * WIDTH_N)).argmin())
    return _outcome(truth, learned, list(dealt[row]))


def of_groups(world: World, seed: int, junction: float = 0.0) -> Outcome:
    """Gauge groups of three, build stacks of them, and look at the truth.

    `junction` is the share of edge scatter (variance) that the end discs of a group draw
    anew when it is put on others; the tool assumes none.
    """
    truth, job = Truth.draw(world, seed), job_for(world)
    rig = rig_for(truth, job)
    task = task_for(rig.belief, job)
    any_stacks = packs_of(list(np.arange(SHOES * SERIES).reshape(SHOES, SERIES)))
    groups = plan_groups(task, any_stacks, GROUP)
    odds = promised(task, groups, SERIES, WIDTH_N)
    travel = group_travel_mm(task, GROUP, SERIES)
    readings = []
    for group in groups:
        discs = numbers_of((group,))[0]
        truth.build(discs)
        readings.append(Reading(1, None, group, "settled", truth.read_n(discs, travel), travel))
    learned = learn(rig, readings, NO_SHIMS, keep_groups=True)
    level = learned_task(learned, job)
    chosen = choose_groups(learned, level, groups, SERIES // GROUP, NO_SHIMS, WIDTH_N, seed)
    stacks = numbers_of(chosen)
    if junction:
        ends = np.concatenate([stack.reshape(-1, GROUP)[:, [0, -1]].ravel() for stack in stacks])
        fresh = truth.rng.normal(0, world.scatter, len(ends))
        truth.edges[ends] = np.sqrt(1 - junction) * truth.edges[ends] + np.sqrt(junction) * fresh
    return Outcome(odds, truth.spread_n(stacks) <= WIDTH_N)


def advised(world: World, seed: int, what: str) -> Outcome:
    """One way of making a set more likely to match, with the odds that it promises."""
    if what == "groups of three":
        return of_groups(world, seed)
    better = {
        "as they are": world,
        "dress": replace(world, sharp=False),
        "measure three times more": replace(world, instrument_sd_mm=world.instrument_sd_mm / 2),
        "a micrometer": replace(world, instrument_sd_mm=0.002),
    }[what]
    return first_builds(better, seed)["by chance"]
