"""What a bag holds, as one document: its discs, lots and the patterns they can make."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.known import Known
from optimizer.estimate.loads import chance_of
from optimizer.estimate.prior import DiscEstimates
from optimizer.estimate.problem import Task
from optimizer.io.known_file import known_path
from optimizer.match.outlook import Outlook, outlooks
from optimizer.match.own_sets import of_each_mark
from optimizer.match.packets import columns
from optimizer.match.solve import proof, refusal
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import limit_load, load, residual_cone_height
from optimizer.model.bag import Bag
from optimizer.model.job import Job
from optimizer.model.sizes import sizes
from optimizer.model.stack import Stack

#: share of its own cone height at which the standards quote a disc's load
REFERENCE_SHARE = 0.75
#: sets of marked discs (`keep_with`) whose patterns are looked at, those of most discs
MOST_MARKS = 8


@dataclass(frozen=True)
class HeldDisc:
    """One disc: as measured, as believed, its load at the reference deflection.

    `target_share` is how far the target load presses it alone, None when past its limit.
    """

    disc: str
    lot: str
    edge: str
    flat_mm: float
    repeats: int
    thickness_mm: float
    cone_height_mm: float
    believed_thickness_mm: float
    believed_cone_height_mm: float
    reference_load_n: float
    target_share: float | None


@dataclass(frozen=True)
class HeldLot:
    """Discs of one lot, edge and size: means and sds as measured.

    The two `..._believed` tell how much of the measured differences is left when those
    that the instrument's noise explains are taken off: 1 with a perfect instrument.
    """

    lot: str
    edge: str
    discs: int
    thickness_mm: float
    thickness_sd_mm: float
    thickness_believed: float
    cone_height_mm: float
    cone_height_sd_mm: float
    cone_height_believed: float


@dataclass(frozen=True)
class HeldStack:
    """What stands under a shoe: its last settled readings, and what it is believed to carry."""

    shoe: int
    packets: Stack
    shims_mm: tuple[float, ...]
    read_n: tuple[float, ...]
    load_n: float
    sd_n: float


@dataclass(frozen=True)
class HeldKnown:
    """What the bench taught, and the file that keeps it; chances are of the stacks that stand.

    `rpm` is the engagement speed seen on the engine, None where none was.
    """

    file: str
    readings: int
    load_factor: float
    load_factor_sd: float
    stacks: tuple[HeldStack, ...]
    chance_within_tolerance: float | None
    chance_on_target: float | None
    rpm: float | None


@dataclass(frozen=True)
class Holdings:
    """Everything `inspect` tells; `reasons` says why no pattern reaches the target.

    `known` is None where the bench taught nothing.
    """

    units: str
    target_load_n: float
    load_tolerance_n: float
    spread_tolerance_n: float
    reference_share: float
    discs: tuple[HeldDisc, ...]
    lots: tuple[HeldLot, ...]
    patterns: tuple[Outlook, ...]
    reasons: tuple[str, ...]
    known: HeldKnown | None
    warnings: tuple[str, ...]


def holdings(work: Workspace) -> Holdings:
    """Look through the bag."""
    job, bag, belief, task = work.job, work.bag, work.belief, work.task
    tasks = of_each_mark(work)
    found: dict[str, Outlook] = {}
    for one in sorted(tasks, key=lambda one: -len(one.usable))[:MOST_MARKS]:
        for seen in outlooks(one, job.target.spread_tolerance_n):
            best = found.setdefault(seen.pattern, seen)
            found[seen.pattern] = seen if seen.chance > best.chance else best
    return Holdings(
        units=job.units,
        target_load_n=float(task.target_n.mean()),
        load_tolerance_n=task.load_tolerance_n,
        spread_tolerance_n=job.target.spread_tolerance_n,
        reference_share=REFERENCE_SHARE,
        discs=_discs(bag, belief, task),
        lots=_lots(bag, belief),
        patterns=tuple(sorted(found.values(), key=lambda seen: -seen.chance)),
        reasons=() if found else _reasons(max(tasks, key=lambda one: len(one.usable))),
        known=None if work.known is None else _known(work.known, job, task),
        warnings=bag.warnings + work.job.notes,
    )


def _reasons(task: Task) -> tuple[str, ...]:
    """Say why no pattern reaches the target."""
    return tuple(str(p) for p in refusal(task, proof(task, columns(task)), Limits()).problems)


def _known(known: Known, job: Job, task: Task) -> HeldKnown:
    stacks: tuple[HeldStack, ...] = ()
    chances = None
    if known.stands:
        now = known.loads(known.stacks, known.shims_mm)
        chances = chance_of(task, now.mean_n, now.covariance_n2, job.target.spread_tolerance_n)
        sd = np.sqrt(np.diag(now.covariance_n2))
        stacks = tuple(
            HeldStack(
                shoe=i + 1,
                packets=packs,
                shims_mm=known.shims_mm[i],
                read_n=tuple(row.load_n for row in known.last(i + 1)),
                load_n=float(now.mean_n[i]),
                sd_n=float(sd[i]),
            )
            for i, packs in enumerate(known.stacks)
        )
    return HeldKnown(
        file=known_path(job).name,
        readings=known.learned.evidence.count,
        load_factor=known.learned.load_factor,
        load_factor_sd=known.learned.load_factor_sd,
        stacks=stacks,
        chance_within_tolerance=None if chances is None else chances.within_tolerance,
        chance_on_target=None if chances is None else chances.on_target,
        rpm=None if known.speed is None else known.speed.rpm,
    )


def _discs(bag: Bag, belief: DiscEstimates, task: Task) -> tuple[HeldDisc, ...]:
    p = task.packets(np.arange(len(belief))[:, None])
    reference = load(p, (1 - REFERENCE_SHARE) * p.free_mm)
    target = float(task.target_n.mean())
    share = 1 - residual_cone_height(p, target) / p.free_mm
    bears = target < limit_load(p)
    return tuple(
        HeldDisc(
            disc=d.name,
            lot=d.lot,
            edge=d.edge,
            flat_mm=d.flat_mm,
            repeats=d.repeats,
            thickness_mm=d.thickness_mm,
            cone_height_mm=d.cone_height_mm,
            believed_thickness_mm=float(belief.thickness_mm[i]),
            believed_cone_height_mm=float(belief.cone_height_mm[i]),
            reference_load_n=float(reference[i]),
            target_share=float(share[i]) if bears[i] else None,
        )
        for i, d in enumerate(bag.discs)
    )


def _lots(bag: Bag, belief: DiscEstimates) -> tuple[HeldLot, ...]:
    groups: dict[tuple[str, str, int], list[int]] = {}
    size = sizes([d.od_mm for d in bag.discs], [d.id_mm for d in bag.discs]).tolist()
    for i, d in enumerate(bag.discs):
        groups.setdefault((d.lot, d.edge, size[i]), []).append(i)
    found = []
    for (lot, edge, _), rows in groups.items():
        t = np.array([bag.discs[i].thickness_mm for i in rows])
        h = np.array([bag.discs[i].cone_height_mm for i in rows])
        found.append(
            HeldLot(
                lot=lot,
                edge=edge,
                discs=len(rows),
                thickness_mm=float(t.mean()),
                thickness_sd_mm=_sd(t),
                thickness_believed=_left(belief.thickness_mm[rows], t),
                cone_height_mm=float(h.mean()),
                cone_height_sd_mm=_sd(h),
                cone_height_believed=_left(belief.cone_height_mm[rows], h),
            )
        )
    return tuple(found)


def _sd(values: Array) -> float:
    return float(values.std(ddof=1)) if np.ptp(values) > 0 else 0.0


def _left(believed: Array, measured: Array) -> float:
    """Part of the measured differences that is believed."""
    return float(believed.std() / measured.std()) if np.ptp(measured) > 0 else 1.0
