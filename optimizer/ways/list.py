"""Which ways there are from here, and which discs a second look would decide most about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.estimate.breakdown import MICROMETER, MOST_AGAIN
from optimizer.estimate.loads import load_uncertainty
from optimizer.estimate.problem import members_of
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.ways.first import own_tool, remeasured
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Way

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
    stacks = task.numbered(start.stacks)
    members = members_of(stacks)
    used = members[members >= 0]
    tool = start.job.instrument
    seen = np.stack([task.belief.thickness_mm[used], task.belief.cone_height_mm[used]], axis=1)
    better = start.task.believing(remeasured(task.belief, used, seen, tool))
    before, after = (load_uncertainty(t, stacks, task.target_n).disc_n2 for t in (task, better))
    gain = (before - after)[..., :2].sum(-1)[members >= 0]
    best = np.argsort(-gain, kind="stable")[:MOST_AGAIN]
    best = best[gain[best] > 0]
    minutes = len(best) * float(getattr(start.job.effort, own_tool(tool)))
    part = gain[best] / max(gain[best].sum(), 1e-12)
    return Look(tuple(task.belief.names[d] for d in used[best]), part, minutes)


def ways_from(start: StartingPoint, look: Look) -> tuple[Way, ...]:
    """List the ways that can be gone from here; the first changes nothing of what is known."""
    task, job = start.task, start.job
    own = own_tool(job.instrument)
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
