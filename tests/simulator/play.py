"""Ways to bring three stacks together on a hidden bench, played to the end.

Every way starts from the same first assignment. It goes on until it stops by its own rule,
or, `until_true`, until the hidden truth ends it: a way that would stop before reads again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.advice.next_move import STOP_AT, Anew, next_move
from optimizer.assignment.problem import Task
from optimizer.bench.learn import learn, loads
from optimizer.bench.readings import Reading
from optimizer.job.model import Job
from optimizer.odds.within import spread_within
from optimizer.physics.constant import packet_constant
from optimizer.physics.disc import Array
from tests.simulator.setup import (
    SHOES,
    WIDTH_N,
    assign,
    learned_task,
    numbers_of,
    packs_of,
    rig_for,
    task_for,
)
from tests.simulator.truth import Truth

MOST_READINGS = 60
NO_SHIMS = (0.0,) * SHOES


@dataclass(frozen=True)
class Played:
    """How a play went.

    `builds` is how many rounds of building there were; `rereads` how often all stacks were
    read again as they stood; `moved` how many discs changed places after the first build;
    `said` the odds at every reading with whether the true spread was within tolerance.
    """

    builds: int
    rereads: int
    moved: int
    within_at_stop: bool
    first_odds: float = 0.0
    first_within: bool = False
    said: tuple[tuple[float, bool], ...] = ()


def with_learning(
    truth: Truth, job: Job, stop_at: float = STOP_AT, until_true: bool = False
) -> Played:
    """Play the advice of the bench command."""
    rig = rig_for(truth, job)
    stacks = assign(task_for(rig.belief, job))
    assert stacks is not None
    readings: list[Reading] = []
    said: list[tuple[float, bool]] = []
    builds = rereads = moved = number = 0
    fresh = list(range(SHOES))
    before = loads(learn(rig, (), NO_SHIMS), packs_of(stacks), NO_SHIMS)
    first_odds = float(spread_within(before.mean_n, before.covariance_n2, WIDTH_N))
    while True:
        number += 1
        for s in fresh:
            truth.build(stacks[s])
        builds += bool(fresh)
        within = truth.spread_n(stacks) <= WIDTH_N
        if until_true and within:
            break
        for s, packs in enumerate(packs_of(stacks)):
            load = truth.read_n(stacks[s])
            readings.append(Reading(number, s + 1, packs, "settled", load))
        learned = learn(rig, readings, NO_SHIMS)
        task = learned_task(learned, job)

        def rebuild(task: Task = task) -> Anew | None:
            again = assign(task, len(readings))
            return None if again is None else (packs_of(again), ((),) * SHOES)

        advice = next_move(learned, task, packs_of(stacks), NO_SHIMS, WIDTH_N, rebuild, stop_at)
        said.append((advice.odds_now, within))
        if (advice.kind == "stop" and not until_true) or number >= MOST_READINGS:
            break
        fresh = []
        if advice.kind in ("stop", "reread"):
            rereads += 1
            continue
        best = advice.moves[0]
        moved += best.discs_moved
        new = numbers_of(best.stacks)
        fresh = [s for s in range(SHOES) if set(new[s]) != set(stacks[s])]
        stacks = new
    return Played(
        builds, rereads, moved, within, first_odds, said[0][1] if said else within, tuple(said)
    )


Rule = Callable[[list[Array], Array, Array, np.random.Generator], list[Array]]


def without_learning(truth: Truth, job: Job, rule: Rule, until_true: bool = False) -> Played:
    """Play a rule that goes by the readings of the last build and the measured discs alone.

    It stops when the readings agree within the tolerance.
    """
    rig = rig_for(truth, job)
    task = task_for(rig.belief, job)
    stacks = assign(task)
    assert stacks is not None
    rng = np.random.default_rng(1)
    target = float(task.target_n.mean())
    column = np.full((len(rig.belief), 3), -1)
    column[:, 0] = np.arange(len(rig.belief))
    constant = packet_constant(rig.discs, column, rig.model, rig.datum, target)
    rate = float(np.mean(loads(learn(rig, (), NO_SHIMS), packs_of(stacks), NO_SHIMS).rate))
    push = -constant * rate  # N that a disc adds to the load of its stack
    fresh, builds, rereads, moved = list(range(SHOES)), 0, 0, 0
    while True:
        for s in fresh:
            truth.build(stacks[s])
        builds += bool(fresh)
        within = truth.spread_n(stacks) <= WIDTH_N
        if (until_true and within) or builds + rereads >= MOST_READINGS:
            break
        seen = np.array([truth.read_n(stack) for stack in stacks])
        fresh = []
        if np.ptp(seen) <= WIDTH_N:
            if not until_true:
                break
            rereads += 1
            continue
        new = rule(stacks, seen, push, rng)
        fresh = [s for s in range(SHOES) if set(new[s]) != set(stacks[s])]
        before, after = _places(stacks), _places(new)
        moved += sum(before.get(d) != after.get(d) for d in before.keys() | after.keys())
        stacks = new
    return Played(builds, rereads, moved, bool(within))


def _places(stacks: list[Array]) -> dict[int, int]:
    return {int(d): s for s, stack in enumerate(stacks) for d in stack}


def _spares(stacks: list[Array], discs: int) -> Array:
    return np.setdiff1d(np.arange(discs), np.concatenate(stacks))


def best_swap(
    stacks: list[Array], seen: Array, push: Array, rng: np.random.Generator
) -> list[Array]:
    """The single swap, with any stack or spare, after which the loads should be nearest."""
    spare = _spares(stacks, len(push))
    best: tuple[float, list[Array]] | None = None
    for a in range(len(stacks)):
        others = [(b, stacks[b]) for b in range(a + 1, len(stacks))] + [(-1, spare)]
        for b, other in others:
            gain = push[other][None, :] - push[stacks[a]][:, None]
            after = np.broadcast_to(seen, (*gain.shape, len(seen))).copy()
            after[..., a] += gain
            if b >= 0:
                after[..., b] -= gain
            spread = np.ptp(after, axis=-1)
            i, j = np.unravel_index(spread.argmin(), spread.shape)
            if best is None or spread[i, j] < best[0]:
                new = [stack.copy() for stack in stacks]
                new[a][i] = other[j]
                if b >= 0:
                    new[b][j] = stacks[a][i]
                best = (float(spread[i, j]), new)
    assert best is not None
    return best[1]


def high_low_swap(
    stacks: list[Array], seen: Array, push: Array, rng: np.random.Generator
) -> list[Array]:
    """The swap between the highest and the lowest stack that should level the two."""
    a, b = int(seen.argmax()), int(seen.argmin())
    gain = push[stacks[b]][None, :] - push[stacks[a]][:, None]
    i, j = np.unravel_index(np.abs(seen[a] - seen[b] + 2 * gain).argmin(), gain.shape)
    new = [stack.copy() for stack in stacks]
    new[a][i], new[b][j] = stacks[b][j], stacks[a][i]
    return new


def random_swap(
    stacks: list[Array], seen: Array, push: Array, rng: np.random.Generator
) -> list[Array]:
    """Any swap between the highest and the lowest stack."""
    new = [stack.copy() for stack in stacks]
    a, b = int(seen.argmax()), int(seen.argmin())
    i, j = rng.integers(len(stacks[a])), rng.integers(len(stacks[b]))
    new[a][i], new[b][j] = stacks[b][j], stacks[a][i]
    return new


def random_rebuild(
    stacks: list[Array], seen: Array, push: Array, rng: np.random.Generator
) -> list[Array]:
    """All discs dealt anew."""
    dealt = rng.permutation(len(push))[: sum(map(len, stacks))]
    return list(dealt.reshape(len(stacks), -1))
