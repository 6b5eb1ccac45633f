"""Ways to bring three stacks together on a hidden bench, played to the end.

Every way starts from the same first assignment and stops by its own rule; minutes count from the
bag as measured. The truth is looked at beside, for the tables: no way sees it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count, islice

import numpy as np

from optimizer.bench.decide import STOP_AT, Advice, next_move
from optimizer.bench.step import steadied
from optimizer.estimate.builds import Standing
from optimizer.estimate.consistency import judge
from optimizer.estimate.learn import Learned, learn, loads
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import Task
from optimizer.estimate.repeats import SCALE_SD
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.readings import Reading
from optimizer.model.stack import StackSet
from optimizer.ways.way import Clock
from tests.simulator.setup import (
    SHOES,
    WIDTH_N,
    deal,
    disc_push_n,
    first_assignment,
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
    """How a play went until its way stopped.

    `minutes` of a person by the usual efforts; `rounds` read, `builds` of them after something was
    (partly) built; `moved` discs put into another stack; `readings` taken; `within` whether the
    true spread was at the stop. `odds` before any reading and `first_within` what became of the
    first build; `said` the chance at every reading with the truth; `foreseen` the minutes that were
    said to be left at every move, with those then taken; `apart_odds` and `apart_within`
    what is said and true of the last set built again of the same discs.
    """

    minutes: float
    rounds: int
    builds: int
    moved: int
    readings: int
    within: bool
    odds: float = 0.0
    first_within: bool = False
    said: tuple[tuple[float, bool], ...] = ()
    foreseen: tuple[tuple[float, float], ...] = ()
    scatter_told: bool = False
    apart_odds: float = 0.0
    apart_within: bool = False


@dataclass(frozen=True)
class Turn:
    """One round with the bench command: what stands, was it (partly) built, what is advised."""

    stacks: list[Array]
    built: bool
    readings: tuple[Reading, ...]
    learned: Learned
    advice: Advice


def turns(
    truth: Truth,
    job: Job,
    stop_at: float = STOP_AT,
    seat_n: Sequence[float] = NO_SHIMS,
    typed: Callable[[Task, Sequence[Reading], Reading, list[Array]], Reading] | None = None,
    whole: bool = True,
) -> Iterator[Turn]:
    """Play the advice of the bench command, round after round, without an end.

    Every stack is read in every round or, not `whole`, only what a move changed. `seat_n` is what a
    bad seat adds to every reading of each shoe; `typed` makes of what the gauge shows what the hand
    writes down, and the advice is then steadied as the command's.
    """
    rig = rig_for(truth, job)
    stacks = first_assignment(rig, job)
    readings: list[Reading] = []
    fresh = asked = list(range(SHOES))
    for number in count(1):
        for s in fresh:
            truth.build(stacks[s])
        standing = packs_of(stacks)
        for s in asked:
            seen = truth.read_n(stacks[s], shoe=s) + seat_n[s]
            shown = Reading(number, s + 1, standing[s], "settled", float(seen))
            readings.append(typed(rig, readings, shown, stacks) if typed else shown)
        learned = learn(rig, readings, NO_SHIMS, scale_sd=SCALE_SD)
        task = learned_task(learned, job)

        def rebuild(task: Task = task) -> StackSet:
            return packs_of(deal(task, len(readings))), ((),) * SHOES

        advice = next_move(learned, task, standing, NO_SHIMS, WIDTH_N, rebuild, stop_at, job.effort)
        if typed:
            unread = [s for s in range(1, SHOES + 1) if not learned.heard(s)]
            advice = steadied(advice, judge(learned, readings), readings, unread)
        yield Turn(stacks, bool(fresh), tuple(readings), learned, advice)
        fresh, asked = [], list(range(SHOES))
        if advice.kind in ("swap", "rebuild"):
            new = numbers_of(advice.moves[0].stacks)
            fresh = [s for s in range(SHOES) if set(new[s]) != set(stacks[s])]
            stacks = new
            asked = asked if whole else fresh


def with_learning(truth: Truth, job: Job, stop_at: float = STOP_AT, whole: bool = False) -> Played:
    """Play the advice of the bench command to the end; `whole` as in `turns`."""
    rig = rig_for(truth, job)
    first = packs_of(first_assignment(rig, job))
    before = loads(learn(rig, (), NO_SHIMS), first, NO_SHIMS)
    odds = float(spread_within(before.mean_n, before.covariance_n2, WIDTH_N))
    said: list[tuple[float, bool]] = []
    foreseen: list[tuple[float, float]] = []
    clock, builds, read = Clock(job.effort), 0, 0
    clock.builds(SHOES)
    for turn in islice(turns(truth, job, stop_at, whole=whole), MOST_READINGS):
        clock.presses(len(turn.readings) - read)
        read = len(turn.readings)
        builds += turn.built
        said.append((turn.advice.chance_now, truth.spread_n(turn.stacks) <= WIDTH_N))
        if turn.advice.kind in ("stop", "leave"):
            break
        if move := turn.advice.advised:
            foreseen.append((move.in_all, clock.minutes))
            pairs = zip(turn.stacks, numbers_of(move.stacks), strict=True)
            touched = sum(set(before) != set(after) for before, after in pairs)
            clock.moves(move.discs_moved, touched)
    told = judge(turn.learned, turn.readings).scatter_told
    apart = replace(turn.learned, standing=Standing({}, {}))
    again = loads(apart, packs_of(turn.stacks), NO_SHIMS)
    for stack in turn.stacks:
        truth.build(stack)
    return Played(
        clock.minutes,
        len(said),
        builds,
        clock.discs,
        read,
        said[-1][1],
        odds,
        said[0][1],
        tuple(said),
        tuple((left, clock.minutes - before) for left, before in foreseen),
        told,
        float(spread_within(again.mean_n, again.covariance_n2, WIDTH_N)),
        truth.spread_n(turn.stacks) <= WIDTH_N,
    )


@dataclass(frozen=True)
class Suspected:
    """A session until the advice is to stop: was anything named suspect, and shoe 1's seat."""

    rounds: int
    any: bool
    seat: bool


def suspects(truth: Truth, job: Job, seat_n: float, most: int = 6) -> Suspected:
    """Play at most so many rounds on a bench whose first seat adds to every reading."""
    found = []
    for turn in islice(turns(truth, job, seat_n=(seat_n, 0.0, 0.0)), most):
        found.append(judge(turn.learned, turn.readings).suspects)
        if turn.advice.kind == "stop":
            break
    named = [s for each in found for s in each]
    seat = any((s.kind, s.name) == ("seat", "shoe 1") or "seat shoe 1" in s.rivals for s in named)
    return Suspected(len(found), bool(named), seat)


Rule = Callable[[list[Array], Array, Array, np.random.Generator], list[Array]]


def without_learning(truth: Truth, job: Job, rule: Rule, whole: bool = True) -> Played:
    """Play a rule by the last readings and the measured discs alone, until the readings agree.

    Every stack is read in every round or, not `whole`, those that were built.
    """
    rig = rig_for(truth, job)
    task = task_for(rig.belief, job)
    stacks = first_assignment(rig, job)
    rng = np.random.default_rng(1)
    push = disc_push_n(task)
    clock, read, seen = Clock(job.effort), 0, np.zeros(SHOES)
    clock.builds(SHOES)
    fresh = list(range(SHOES))
    for rounds in count(1):
        for s in fresh:
            truth.build(stacks[s])
        for s in range(SHOES) if whole else fresh:
            seen[s] = truth.read_n(stacks[s], shoe=s)
            read += 1
            clock.presses(1)
        if np.ptp(seen) <= WIDTH_N or rounds == MOST_READINGS:
            break
        new = rule(stacks, seen, push, rng)
        fresh = [s for s in range(SHOES) if set(new[s]) != set(stacks[s])]
        moved = sum(len(set(b) - set(a)) for a, b in zip(stacks, new, strict=True))
        clock.moves(moved, len(fresh))
        stacks = new
    within = truth.spread_n(stacks) <= WIDTH_N
    return Played(clock.minutes, rounds, rounds, clock.discs, read, within)


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
