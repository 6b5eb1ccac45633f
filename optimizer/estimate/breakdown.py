"""Where the uncertainty of a set comes from, and what would help most."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.estimate.loads import DISCS, SOURCES, LoadUncertainty, chance, load_uncertainty
from optimizer.estimate.prior import load_per_flat, measured_again, measurement_noise
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.job import Instrument, Job

#: a micrometer that repeats to 2 um, used with care
MICROMETER = Instrument(thickness_sd_mm=0.002, height_sd_mm=0.002)
#: sd of a travel or a seat taken with a dial gauge on the very shoe
DIAL_MM = 0.005
#: how many discs are proposed for measuring again, and how often
MOST_AGAIN = 8
TIMES_MORE = 3
#: a gain in chance below this is not worth a line
LEAST_GAIN = 0.01


@dataclass(frozen=True)
class SourceShare:
    """Part of the variance of a set's loads; `sd_n` per stack from this source alone."""

    source: str
    share: float
    sd_n: float


@dataclass(frozen=True)
class Help:
    """Something the user can do, to which discs, and the chance before and after."""

    action: str
    discs: tuple[str, ...]
    chance_now: float
    chance_then: float

    def __str__(self) -> str:
        """Say it in a line, such as "a micrometer instead of this instrument: 41 % -> 88 %"."""
        return f"{self.action}: {text.percent(self.chance_now)} -> {text.percent(self.chance_then)}"


def shares(uncertainty: LoadUncertainty) -> tuple[SourceShare, ...]:
    """Split the uncertainty of a set by source, the largest first."""
    parts = uncertainty.parts_n2.mean(0)
    whole = parts.sum()
    found = [
        SourceShare(source, float(part / whole) if whole > 0 else 0.0, float(np.sqrt(part)))
        for source, part in zip(SOURCES, parts, strict=True)
        if part > 0 or source in DISCS
    ]
    return tuple(sorted(found, key=lambda s: -s.share))


def what_helps(
    task: Task,
    members: Index,
    load_n: Array,
    uncertainty: LoadUncertainty,
    spread_tolerance_n: float,
    job: Job,
) -> tuple[Help, ...]:
    """List what raises the chance of a set by a point or more, the best first.

    `uncertainty` is that of the loads `load_n` (S) of the stacks as they are known now.

    Notes
    -----
    Nobody knows what another measurement will say. But the match is made again after it,
    as closely as now, so the chance then is that of the loads as predicted now with the
    uncertainty that the measurement will leave; that uncertainty does not depend on what it says.
    The same discs stand for those the new match will take.
    """
    now = chance(task, uncertainty, load_n, spread_tolerance_n)
    names = task.belief.names
    found = []
    for action, discs, changed in _changes(task, members, load_n, uncertainty, job):
        left = load_uncertainty(changed, members, load_n)
        then = chance(changed, left, load_n, spread_tolerance_n).within_tolerance
        if then >= now.within_tolerance + LEAST_GAIN:
            chosen = tuple(names[d] for d in discs)
            found.append(Help(action, chosen, now.within_tolerance, then))
    return tuple(sorted(found, key=lambda h: -h.chance_then))


def _changes(
    task: Task,
    members: Index,
    load_n: Array,
    uncertainty: LoadUncertainty,
    job: Job,
) -> Iterator[tuple[str, Index, Task]]:
    """Yield what could be done, the discs it concerns, and what would then be believed."""
    tool, dressed_scatter = job.instrument, job.model.dressed_scatter
    used = members[members >= 0]
    if tool.thickness_sd_mm > MICROMETER.thickness_sd_mm:
        better = _measured(task, used, MICROMETER, 1)
        yield "a micrometer instead of this instrument", used[:0], better
    sharp = used[task.belief.scatter[used] > dressed_scatter]
    if len(sharp):
        scatter = task.belief.scatter.copy()
        scatter[sharp] = dressed_scatter
        dressed = replace(task, belief=replace(task.belief, scatter=scatter))
        which = f"these {len(sharp)} sharp discs" if len(sharp) > 1 else "this sharp disc"
        yield f"dress {which} and measure again", sharp, dressed
    for action, unsure, flat in _flats(task, used, tool):
        yield action.format(len(unsure)), unsure, _flats_known(task, unsure, flat)
    if (task.place_sd_mm > DIAL_MM).any():
        known = replace(
            task,
            travel_sd_mm=np.minimum(task.travel_sd_mm, DIAL_MM),
            seat_sd_mm=np.minimum(task.seat_sd_mm, DIAL_MM),
        )
        what = "the travel and seat" if task.seat_sd_mm.any() else "the travel"
        yield f"measure {what} of every shoe with a dial gauge", used[:0], known
    again = _worth_measuring(task, members, load_n, uncertainty, tool)
    if len(again):
        which = f"these {len(again)} discs" if len(again) > 1 else "this disc"
        yield f"measure {which} three times more", again, _measured(task, again, tool, TIMES_MORE)


def _flats(task: Task, used: Index, tool: Instrument) -> Iterator[tuple[str, Index, Array]]:
    """Discs whose flats could be measured, or measured better, and the variance that leaves."""
    belief = task.belief
    now = belief.covariance[used, 2, 2] * belief.flat_share[used]
    once = (load_per_flat(task.discs.take(used), task.model.law) * tool.flat_sd_mm) ** 2
    assumed = now > 1.01 * once
    if assumed.any():
        yield "measure the flats of these {} dressed discs", used[assumed], once[assumed]
    elif (now > 0).any():
        rows = now > 0
        yield (
            "measure the flats of these {} discs three times more",
            used[rows],
            now[rows] / (1 + TIMES_MORE),
        )


def _flats_known(task: Task, discs: Index, flat: Array) -> Task:
    """The task with a variance of `flat` (k) left in the flats of some discs (k)."""
    belief = task.belief
    covariance, share = belief.covariance.copy(), belief.flat_share.copy()
    left = covariance[discs, 2, 2] * (1 - share[discs]) + flat
    covariance[discs, 2, 2] = left
    share[discs] = np.divide(flat, left, out=np.zeros_like(flat), where=left > 0)
    return replace(task, belief=replace(belief, covariance=covariance, flat_share=share))


def _measured(task: Task, discs: Index, tool: Instrument, times: int) -> Task:
    """The task with the uncertainty left after measuring `discs` so many more times."""
    belief = task.belief
    noise = measurement_noise(tool, belief.overall[discs], np.full(len(discs), float(times)))
    covariance = belief.covariance.copy()
    covariance[discs] = measured_again(covariance[discs], noise)[1]
    return replace(task, belief=replace(belief, covariance=covariance))


def _worth_measuring(
    task: Task,
    members: Index,
    load_n: Array,
    uncertainty: LoadUncertainty,
    tool: Instrument,
) -> Index:
    """Discs whose uncertainty shrinks most when measured again, in N^2 of their stack."""
    again = _measured(task, members[members >= 0], tool, TIMES_MORE)
    left = load_uncertainty(again, members, load_n)
    gain = (uncertainty.disc_n2 - left.disc_n2)[..., :2].sum(-1)[members >= 0]
    best = np.argsort(-gain, kind="stable")[:MOST_AGAIN]
    return np.sort(members[members >= 0][best[gain[best] > 0]])
