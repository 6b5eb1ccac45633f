"""Sub-stacks of a few discs, gauged by themselves, that then stay together.

A group that was pressed once and is not taken apart keeps how its edges settled, so stacks
made of gauged groups carry hardly any doubt but the gauge's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.bench.decide import judged
from optimizer.errors import CannotBuildError, InputError
from optimizer.estimate.learn import Learned, learn, loads
from optimizer.estimate.probability import SEARCHED, spread_within
from optimizer.estimate.problem import Task
from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.packet import Index
from optimizer.model.readings import Reading
from optimizer.model.stack import Stack

#: dealings of groups to stacks that are looked at, and those judged by chance
DEALT, JUDGED = 20_000, 200


def kept_together(task: Task, learned: Learned) -> Task:
    """Return the task in which no swap parts the groups that stand."""
    members = [learned.rig.members((group,)).ravel() for group in learned.standing.groups]
    return replace(task, together=task.together + tuple(discs[discs >= 0] for discs in members))


def plan_groups(task: Task, stacks: tuple[Stack, ...], size: int) -> tuple[Stack, ...]:
    """Share the bag out to groups of `size` discs in series that push much alike.

    Parameters
    ----------
    task : poses the believed discs
    stacks : the planned stacks, whose pattern says how many groups one takes

    Raises
    ------
    InputError
        when stacks are not made of single discs in a number that groups divide, or travel
        is not zeroed at a seating load, without which a group has no travel of its own.
    """
    if task.datum.has_room:
        raise InputError(
            "Expected a job with a seating load for --groups: without it the travel of a "
            "sub-stack is not defined. Add seating_load under [datum]."
        )
    if any(len(packet) > 1 for stack in stacks for packet in stack) or any(
        len(stack) % size for stack in stacks
    ):
        raise InputError(
            f"Expected stacks of single discs, a multiple of {size} of them, for --groups {size}; "
            "got stacks of " + ", ".join(str(sum(map(len, stack))) for stack in stacks) + " discs."
        )
    usable = task.usable
    alone = np.full((len(usable), 3), -1)
    alone[:, 0] = usable
    constant = packet_constant(
        task.discs, alone, task.model, task.datum, float(task.target_n.mean())
    )
    count = len(usable) // size
    middle = np.argsort(np.abs(constant - np.median(constant)), kind="stable")[: count * size]
    order = usable[middle[np.argsort(constant[middle], kind="stable")]].reshape(size, count)
    order[1::2] = order[1::2, ::-1].copy()
    names = task.belief.names
    return tuple(tuple((names[d],) for d in order[:, g]) for g in range(count))


def group_travel_mm(task: Task, size: int, series: int) -> float:
    """Travel of a group that presses its discs as far as a whole stack does at work."""
    return float(task.travel_mm.mean()) * size / series


def promised(task: Task, groups: tuple[Stack, ...], series: int, width_n: float) -> float:
    """Chance of a set built of groups after one reading of each, if its loads come out alike."""
    size = len(groups[0])
    travel = group_travel_mm(task, size, series)
    readings = [Reading(1, None, g, "settled", float(task.target_n.mean()), travel) for g in groups]
    shims = (0.0,) * task.shoes
    learned = learn(task, readings, shims, keep_groups=True)
    each = series // size
    stacks = tuple(sum(groups[s * each : (s + 1) * each], ()) for s in range(task.shoes))
    then = loads(learned, stacks, shims)
    return judged(replace(then, mean_n=task.target_n), task, width_n)[0]


def choose_groups(
    learned: Learned,
    task: Task,
    groups: tuple[Stack, ...],
    each: int,
    shims_mm: Sequence[float],
    width_n: float,
    seed: int = 0,
) -> tuple[Stack, ...]:
    """Build one stack a shoe from `each` groups: best chance among those near the target.

    Raises
    ------
    CannotBuildError
        when there are too few groups.
    """
    shoes = task.shoes
    if len(groups) < each * shoes:
        raise CannotBuildError(
            f"Expected {each * shoes} groups for {shoes} stacks, got readings of {len(groups)}. "
            "Read the other groups too."
        )
    members = learned.rig.members(groups)
    force = float(task.target_n.mean())
    c = packet_constant(learned.rig.discs, members, learned.rig.model, learned.rig.datum, force)
    constant = np.where(members[..., 0] >= 0, c, 0.0).sum(1)
    build = np.array([learned.standing.groups[g] for g in groups])
    constant += learned.build_mm[build]
    rng = np.random.default_rng(seed)
    order: Index = rng.permuted(np.tile(np.arange(len(groups)), (DEALT, 1)), axis=1)
    order = order[:, : each * shoes].reshape(DEALT, shoes, each)
    sums = constant[order].sum(-1)
    first = loads(learned, _stacks(groups, order[0]), shims_mm)
    load = first.mean_n - first.rate * (sums - sums[0])
    off = np.abs(load - task.target_n).max(1)
    apart = np.ptp(load * task.weight, axis=1)
    misfit = apart + 0.1 * np.maximum(off - task.load_tolerance_n, 0.0)
    best, chosen = -1.0, order[0]
    for row in np.argsort(misfit, kind="stable")[: JUDGED : JUDGED // 10]:
        then = loads(learned, _stacks(groups, order[row]), shims_mm)
        cover = then.covariance_n2 * np.outer(task.weight, task.weight)
        chance = float(spread_within(then.mean_n * task.weight, cover, width_n, SEARCHED))
        if chance > best:
            best, chosen = chance, order[row]
    return _stacks(groups, chosen)


def _stacks(groups: tuple[Stack, ...], chosen: Index) -> tuple[Stack, ...]:
    return tuple(sum((groups[g] for g in stack), ()) for stack in chosen)
