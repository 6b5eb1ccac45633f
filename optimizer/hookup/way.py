"""A way to another engagement speed: what to do, and what it gives and costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from optimizer.clutch.engagement import Hookup, hookup
from optimizer.estimate.loads import chance, load_uncertainty
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.hookup.today import ClutchState
from optimizer.match.plan import plan_stacks
from optimizer.match.result import Assigned, is_loose
from optimizer.mechanics.disc import Array
from optimizer.mechanics.state import disc_states
from optimizer.model.job import Effort
from optimizer.model.plan import PlanStack

#: a way that comes this near to the speed asked for reaches it
REACHED_RPM = 25.0

Kind = Literal["shims", "packet", "spacer", "mass", "discs", "pattern"]
#: least work first
KINDS: tuple[Kind, ...] = ("shims", "packet", "spacer", "mass", "discs", "pattern")


@dataclass(frozen=True)
@frozen_arrays
class HookupWay:
    """One way. `tension_mpa` is the greatest tension in any disc at the travel, `om_mpa` the
    stress there on the centre of rotation (compression, negative); `height_mm` the tallest
    stack with its shims, unloaded; `loose` tells whether a stack hardly presses with the shoe at
    rest; `moved` counts discs that come under another shoe, into
    another packet, or out of or into the bag, None where today's stacks are not known.
    `spacer_mm` is how much thicker a spacer under every stack is (below 0: how much deeper every
    seat), `mass_change_g` (S) what goes onto each shoe, `mass_share` new over old mass in the
    mean. `holds_rpm` is from where full throttle is
    held, `chance` the chance that the loads agree within the tolerance, `minutes` of the bench."""

    kind: Kind
    what: str
    answer: Assigned
    stacks: tuple[PlanStack, ...]
    hookup: Hookup
    share: float
    tension_mpa: float
    om_mpa: float
    height_mm: float
    loose: bool
    moved: int | None
    spacer_mm: float | None = None
    mass_change_g: tuple[float, ...] | None = None
    mass_share: float = 1.0
    pull_kgm: Array | None = None
    holds_rpm: float | None = None
    chance: float | None = None
    minutes: float | None = None

    def misses_rpm(self, target_rpm: float) -> float:
        """Mean engagement speed less the one asked for."""
        return self.hookup.mean_rpm - target_rpm


def way(
    task: Task, pull_kgm: Array, kind: Kind, what: str, answer: Assigned, today: Assigned | None
) -> HookupWay | None:
    """Describe an assignment as a way; None where it breaks a limit of the job."""
    stacks = plan_stacks(task, answer)
    share = max(stack.max_deflection_share for stack in stacks)
    low, high = task.rules.height_window_mm
    free = [stack.free_height_mm for stack in stacks]
    if share > task.rules.deflection_limit or not low <= min(free) <= max(free) <= high:
        return None
    if answer.work_n.min() <= 0:
        return None
    p = task.packets(answer.stacks)
    stress = disc_states(task.discs, answer.stacks, p, answer.work_n).stress
    sd = np.array([stack.working_load_sd_n for stack in stacks])
    return HookupWay(
        kind=kind,
        what=what,
        answer=answer,
        stacks=stacks,
        hookup=hookup(pull_kgm, answer.work_n, sd),
        share=share,
        tension_mpa=float(max(stress.ii.max(), stress.iii.max())),
        om_mpa=float(stress.om.min()),
        height_mm=tallest_mm(stacks),
        loose=is_loose(task, answer),
        moved=None if today is None else _moved(answer, today),
        pull_kgm=pull_kgm,
    )


def completed(
    one: HookupWay, task: Task, now: ClutchState, effort: Effort, tolerance_n: float
) -> HookupWay:
    """Add what is told of the ways that are shown: hold, chance of a match and minutes."""
    answer = one.answer
    pull = now.pull_kgm if one.pull_kgm is None else one.pull_kgm
    # each shoe is to carry what it carries of the mean: only differences from that are apart
    own = replace(task, target_n=answer.work_n.mean() * pull / pull.mean())
    uncertainty = load_uncertainty(task, answer.stacks, answer.work_n)
    return replace(
        one,
        holds_rpm=now.holds_rpm(pull, answer.work_n),
        chance=chance(own, uncertainty, answer.work_n, tolerance_n).within_tolerance,
        minutes=_minutes(one, effort),
    )


def _minutes(one: HookupWay, effort: Effort) -> float | None:
    """Minutes at the bench, every stack read anew; None for work on the shoes."""
    shoes = len(one.stacks)
    if one.kind == "mass":
        return None
    if one.kind in ("shims", "spacer"):
        work = shoes * effort.exchange
    elif one.kind == "packet" and one.moved is not None:
        work = one.moved * effort.exchange
    else:
        work = shoes * effort.build
    return work + shoes * effort.reading


def tallest_mm(stacks: tuple[PlanStack, ...]) -> float:
    """Height of the tallest stack with its shims, unloaded."""
    return max(stack.free_height_mm + sum(stack.shims_mm) for stack in stacks)


def _moved(answer: Assigned, today: Assigned) -> int:
    """Discs of packets that are new under their shoe, and discs put back into the bag."""
    moved: set[int] = set()
    for new, old in zip(answer.stacks, today.stacks, strict=True):
        before, after = ({frozenset(packet) for packet in each.tolist()} for each in (old, new))
        for packet in before ^ after:
            moved |= packet
    return len(moved - {-1})


def rank(ways: list[HookupWay], target_rpm: float, band_rpm: float) -> list[HookupWay]:
    """Order ways: those that reach the speed, that press at rest, in the band, of least work."""

    def key(one: HookupWay) -> tuple[float, ...]:
        miss = abs(one.misses_rpm(target_rpm))
        return (
            miss if miss > REACHED_RPM else 0.0,
            one.loose,
            one.hookup.band_rpm > band_rpm,
            KINDS.index(one.kind),
            one.hookup.band_ninety_rpm or 0.0,
        )

    return sorted(ways, key=key)
