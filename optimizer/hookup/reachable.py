"""How far each kind of way leads: the slowest and the fastest hookup that it gives."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import speed_rpm
from optimizer.errors import MechanicsError
from optimizer.estimate.problem import Task
from optimizer.hookup.moves import loads_on_shims
from optimizer.hookup.today import ClutchState
from optimizer.hookup.workshop import MOST_MASS
from optimizer.match.infeasibility import reached
from optimizer.match.layouts import shims_of
from optimizer.match.packets import bearable
from optimizer.mechanics.disc import Array
from optimizer.mechanics.stack import load_at


@dataclass(frozen=True)
class SpeedRange:
    """What one kind of way reaches, as mean engagement speeds; `about` where of middling discs.

    `gap_rpm` are the speeds nearest to the one asked for, below and above it, between which this
    kind has none: patterns go in steps.
    """

    what: str
    low_rpm: float
    high_rpm: float
    about: bool = False
    gap_rpm: tuple[float, float] | None = None


def ranges(task: Task, now: ClutchState, target_rpm: float) -> Iterator[SpeedRange]:
    """Yield the range of every kind of way, within the deflection limit and not loose at rest."""
    mean = now.hookup.mean_rpm
    if now.stacks is not None and task.datum.has_room:
        p = task.packets(now.stacks.stacks)
        most = np.where(p.present.any(-1), bearable(task, p), np.inf).min(1)
        told = now.load_n / now.stacks.work_n
        choices = shims_of(task)
        if choices:
            loads = loads_on_shims(task, now.stacks, choices)
            good = ((loads > 0) & (loads <= most)).all(1)
            rpm = _mean(now, loads[good] * told)
            if len(rpm):
                yield SpeedRange("today's stacks on shims on hand", rpm.min(), rpm.max())
        try:  # as low as just not loose at rest, as high as the deflection limit
            least = load_at(p, task.travel_mm)
        except MechanicsError:
            least = most
        if (least < most).all():
            ends = (speed_rpm(now.pull_kgm, each * told) for each in (least, most))
            low, high = next(ends).max(), next(ends).min()  # no stack loose, and none beyond
            if low < high:
                yield SpeedRange("today's stacks on any spacer", float(low), float(high))
    if now.mass_g is not None:
        low, high = mean / np.sqrt(1 + MOST_MASS), mean / np.sqrt(1 - MOST_MASS)
        said = f"today's loads, {MOST_MASS:.0%} on or off the shoes".replace("%", " %")
        yield SpeedRange(said, float(low), float(high))
    found = [float(_mean(now, one.load_n)) for one in reached(task)]
    if found:
        below, above = (
            [rpm for rpm in found if (rpm >= target_rpm) is above] for above in (False, True)
        )
        gap = (max(below), min(above)) if below and above else None
        what = "any pattern from the bag, loose ones too"
        yield SpeedRange(what, min(found), max(found), about=True, gap_rpm=gap)


def _mean(now: ClutchState, load_n: Array) -> Array:
    mean: Array = speed_rpm(now.pull_kgm, load_n).mean(-1)
    return mean
