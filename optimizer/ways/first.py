"""Which ways there are from here, and what each does first: dress, measure, press on the gauge."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.bench.groups import group_travel_mm, plan_groups
from optimizer.estimate.breakdown import MICROMETER, MOST_AGAIN
from optimizer.estimate.direct import Direct, folded
from optimizer.estimate.loads import load_uncertainty
from optimizer.estimate.prior import DiscEstimates, measured_again, measurement_noise
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.job import Instrument
from optimizer.model.readings import Reading
from optimizer.ways.hidden import Hidden
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Clock, Way

#: a caliper in a steady hand, common practice, no source
CALIPER = Instrument(thickness_sd_mm=0.01, height_sd_mm=0.01)


@dataclass
class Prepared:
    """What is known once a way has done what it does first.

    `changed` tells that the discs are known otherwise than the planned set was made of, `stands`
    that no stack had to be taken apart for it.
    """

    task: Task
    readings: list[Reading]
    keep_groups: bool
    changed: bool = False
    stands: bool = True


def prepare(start: StartingPoint, way: Way, hidden: Hidden, clock: Clock) -> Prepared:
    """Do what a way does first."""
    now = Prepared(start.task, list(start.readings), start.keep_groups)
    usable = start.task.usable
    if way.dress:
        _dress(start, hidden, clock, now)
    if way.measure:
        own = way.measure == start.job.instrument.tool
        tool = start.job.instrument if own else {"caliper": CALIPER}.get(way.measure, MICROMETER)
        _measure(start, hidden, now, usable, tool)
        clock.measures(len(usable), way.measure)
    if way.again:
        some: Index = np.array([start.task.belief.numbers[name] for name in way.again])
        _measure(start, hidden, now, some, start.job.instrument)
        clock.measures(len(some), start.job.instrument.tool)
    if way.groups == 1:
        _press(start, hidden, now, usable)
        clock.presses(len(usable), len(usable))
    elif way.groups:
        _gauge(start, hidden, clock, now, way.groups)
    return now


def _dress(start: StartingPoint, hidden: Hidden, clock: Clock, now: Prepared) -> None:
    """Dress what is sharp; readings of before are of other discs then."""
    job, belief = start.job, now.task.belief
    sharp = now.task.usable[belief.scatter[now.task.usable] > job.model.dressed_scatter]
    seen, sd = hidden.dress(sharp, job)
    flat, scatter = belief.flat_mm.copy(), belief.scatter.copy()
    cover, part = belief.covariance.copy(), belief.flat_share.copy()
    flat[sharp], scatter[sharp] = seen, job.model.dressed_scatter
    cover[sharp, 2, 2] += sd**2
    part[sharp] = sd**2 / cover[sharp, 2, 2]
    changed = replace(belief, flat_mm=flat, scatter=scatter, covariance=cover, flat_share=part)
    now.task = start.task.believing(changed)
    now.readings, now.changed, now.stands = [], True, False
    _measure(start, hidden, now, sharp, job.instrument)
    clock.dresses(len(sharp))
    clock.measures(len(sharp), job.instrument.tool)


def _measure(
    start: StartingPoint, hidden: Hidden, now: Prepared, discs: Index, tool: Instrument
) -> None:
    now.task = start.task.believing(
        remeasured(now.task.belief, discs, hidden.measure(discs, tool), tool)
    )
    now.changed = True


def remeasured(
    belief: DiscEstimates, discs: Index, seen_mm: Array, tool: Instrument
) -> DiscEstimates:
    """Correct discs (K) by another measurement of thickness and cone height (K, 2)."""
    noise = measurement_noise(tool, belief.overall[discs], np.ones(len(discs)))
    cover = belief.covariance.copy()
    gain, cover[discs] = measured_again(belief.covariance[discs], noise)
    old = np.stack([belief.thickness_mm[discs], belief.cone_height_mm[discs]], axis=1)
    moved = np.einsum("kij,kj->ki", gain, seen_mm - old)
    t, h, factor = (
        values.copy() for values in (belief.thickness_mm, belief.cone_height_mm, belief.factor)
    )
    t[discs] += moved[:, 0]
    h[discs] += moved[:, 1]
    factor[discs] *= np.exp(moved[:, 2])
    return replace(belief, thickness_mm=t, cone_height_mm=h, factor=factor, covariance=cover)


def _press(start: StartingPoint, hidden: Hidden, now: Prepared, discs: Index) -> None:
    """Press discs one by one and believe what the gauge says of each."""
    at = np.full(len(discs), start.alone_mm)
    seen = Direct(discs, at, hidden.press_n(discs, at), np.ones(len(discs)))
    now.task = now.task.believing(folded(now.task, seen))
    now.changed, now.stands = True, False


def _gauge(start: StartingPoint, hidden: Hidden, clock: Clock, now: Prepared, size: int) -> None:
    """Press sub-stacks that then stay together."""
    shims = start.shims
    _, task = start.learned(now.task, now.readings, shims, now.keep_groups)
    groups = plan_groups(task, start.stacks, size)
    travel = group_travel_mm(task, size, len(start.stacks[0]))
    number = max((r.round for r in now.readings), default=0)
    for group in groups:
        hidden.build(group, (1.0,) * size, None, travel)
        seen = hidden.read_n(group, None, travel)
        now.readings.append(Reading(number, None, group, "settled", seen, travel))
    clock.presses(len(groups), size * len(groups))
    hidden.stands = {}
    now.keep_groups, now.changed, now.stands = True, True, False


SECOND_LOOK = "a second look at those that decide"


@dataclass(frozen=True)
@frozen_arrays
class Look:
    """Discs worth a second look, most first: their `part` of the uncertainty it takes away, and the
    minutes it costs to measure them all."""

    discs: tuple[str, ...]
    part: Array
    minutes: float


def second_look(start: StartingPoint) -> Look:
    """Find the discs of the set whose load is known the better for being measured once more."""
    task = start.task
    members = task.members(start.stacks)
    used = members[members >= 0]
    own = start.job.instrument
    seen = np.stack([task.belief.thickness_mm[used], task.belief.cone_height_mm[used]], axis=1)
    better = start.task.believing(remeasured(task.belief, used, seen, own))
    before, after = (load_uncertainty(t, members, task.target_n).disc_n2 for t in (task, better))
    gain = (before - after)[..., :2].sum(-1)[members >= 0]
    best = np.argsort(-gain, kind="stable")[:MOST_AGAIN]
    best = best[gain[best] > 0]
    minutes = len(best) * start.job.effort.measuring(own.tool)
    part = gain[best] / max(gain[best].sum(), 1e-12)
    return Look(tuple(task.belief.names[d] for d in used[best]), part, minutes)


def ways_from(start: StartingPoint, look: Look) -> tuple[Way, ...]:
    """List the ways that can be gone from here; the first changes nothing of what is known."""
    task, job = start.task, start.job
    own = job.instrument.tool
    n = len(task.usable)
    ways = [Way("go on from what stands" if start.stands else "match as measured")]
    if look.discs:
        ways.append(Way(SECOND_LOOK, again=look.discs))
    ways.append(Way(f"measure all {n} again by {own}", measure=own))
    finer = job.instrument.thickness_sd_mm > MICROMETER.thickness_sd_mm and own == "caliper"
    if finer:
        ways.append(Way(f"measure all {n} by micrometer", measure="micrometer"))
    ways.append(Way(f"press all {n} discs alone first", groups=1))
    sizes = [k for k in (2, 3) if _groups_can_be(start, k)]
    ways += [Way(f"groups of {text.number(k)} that stay together", groups=k) for k in sizes]
    if finer and sizes:
        k = sizes[-1]
        name = f"micrometer, then groups of {text.number(k)}"
        ways.append(Way(name, measure="micrometer", groups=k))
    sharp = int((task.belief.scatter[task.usable] > job.model.dressed_scatter).sum())
    if sharp:
        ways.append(Way(f"dress the {sharp} sharp discs", dress=True))
    return tuple(ways)


def _groups_can_be(start: StartingPoint, size: int) -> bool:
    """Whether stacks of single discs divide into groups that have a travel of their own."""
    series = {len(stack) for stack in start.stacks}
    single = all(len(packet) == 1 for stack in start.stacks for packet in stack)
    together = len(start.task.together) or len(start.task.use)
    zeroed = not start.task.datum.has_room
    return zeroed and single and len(series) == 1 and not together and min(series) % size == 0
