"""Ways to another engagement speed that leave today's stacks together: a spacer, or other masses.

Both are made, not taken from the bag: a spacer under every stack (or a seat cut deeper), and
weight screwed to the shoes or ground off.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.clutch.engagement import balanced_load_n
from optimizer.errors import MechanicsError
from optimizer.estimate.problem import Task
from optimizer.hookup.today import ClutchState, as_told
from optimizer.hookup.way import HookupWay, way
from optimizer.match.result import Assigned, exact
from optimizer.mechanics.stack import rate

#: a spacer or a cut beyond this, in mm, and masses changed by more than this share, are no way
MOST_SPACER_MM, MOST_MASS = 2.0, 0.3
#: rounds in which the spacer settles
ROUNDS = 12


def workshop_ways(wanted: Task, now: ClutchState, target_rpm: float) -> Iterator[HookupWay]:
    """Yield what reaches the speed with today's stacks as they are, within a job's limits."""
    if now.stacks is not None:
        ways = _spaced(wanted, now, now.stacks), _massed(wanted, now, now.stacks, target_rpm)
        yield from (made for made in ways if made is not None)


def _spaced(wanted: Task, now: ClutchState, today: Assigned) -> HookupWay | None:
    """One spacer under every stack, or all seats cut alike, so that the mean load is right."""
    if not wanted.datum.has_room:
        return None
    p = wanted.packets(today.stacks)
    spacer, answer = 0.0, today
    aim = float(wanted.target_n.mean())
    for _ in range(ROUNDS):
        off = aim - float(answer.work_n.mean())
        spacer += off / float(rate(p, answer.work_n).mean())
        if abs(spacer) > MOST_SPACER_MM:
            return None
        spaced = replace(wanted, datum=wanted.datum.with_shims(np.full(wanted.shoes, spacer)))
        try:
            answer = exact(spaced, today.stacks, today.shims, 0.0)
        except MechanicsError:
            return None  # pressed solid before it is fast enough
        if answer.work_n.min() <= 0:
            return None
        answer = as_told(spaced, answer, now)
    what = "a spacer under every stack" if spacer > 0 else "every seat deeper"
    made = way(spaced, now.pull_kgm, "spacer", what, answer, today)
    return None if made is None else replace(made, spacer_mm=spacer)


def _massed(wanted: Task, now: ClutchState, today: Assigned, target_rpm: float) -> HookupWay | None:
    """Shoes of the mass that today's loads balance at the speed, each by itself."""
    if now.mass_g is None:
        return None
    share = now.load_n / balanced_load_n(now.pull_kgm, target_rpm)
    change = now.mass_g * (share - 1.0)
    if np.abs(share - 1.0).max() > MOST_MASS:
        return None
    what = "lighter shoes" if change.mean() < 0 else "heavier shoes"
    carries = replace(today, work_n=now.load_n)
    made = way(wanted, now.pull_kgm * share, "mass", what, carries, today)
    if made is None:
        return None
    return replace(made, mass_change_g=tuple(change.tolist()), mass_share=float(share.mean()))
