"""Discs as they are sold that would give an engagement speed, with how many to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import speed_rpm
from optimizer.estimate.problem import Task
from optimizer.hookup.today import Now
from optimizer.match.packets import bearable
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.disc import discs
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, loads_below_flat, required_deflection
from optimizer.mechanics.state import greatest_share
from optimizer.model.catalog import Offer, Size
from optimizer.model.pattern import patterns

#: a size fits where its diameters are within this of the bag's, in mm
FITS_MM = 0.3
#: discs of the bag count as a size where thickness and cone height are so near, as shares
SAME_THICKNESS, SAME_CONE = 0.03, 0.1
#: shims are sold in steps of this, and at most so much goes under a stack; in mm
SHIM_STEP_MM, MOST_SHIMS_MM = 0.05, 1.0
#: an answer this far from the speed asked for is still worth a line; discs a stack; answers
NEAR_RPM, MOST_DISCS, MOST = 120.0, 20, 3


@dataclass(frozen=True)
class Sold:
    """One size in one pattern: what it gives of nominal discs, and how many it takes.

    `have` discs of this size are in the bag, `packs` are to be bought for the rest.
    """

    size: str
    pattern: str
    rpm: float
    share: float
    loose: bool
    shim_mm: float
    discs: int
    have: int
    packs: int
    pack: int
    cost: float | None
    currency: str


def sold_ways(wanted: Task, now: Now, target_rpm: float, sizes: Sequence[Size]) -> tuple[Sold, ...]:
    """Return the best few sizes and patterns: those that press at rest, near the speed, cheapest.

    Loads are of nominal discs: what is delivered differs, and is measured and matched then.
    """
    bag = wanted.discs.take(wanted.usable)
    od, bore = float(np.median(bag.od_mm)), float(np.median(bag.id_mm))
    found = [
        one
        for size in sizes
        if abs(size.od_mm - od) <= FITS_MM and abs(size.id_mm - bore) <= FITS_MM
        for offer in size.offers
        for one in _of(wanted, now, target_rpm, size, offer)
    ]

    def key(one: Sold) -> tuple[float, ...]:
        off = abs(one.rpm - target_rpm)
        return one.loose, round(off / 25), one.cost or 0.0, one.packs, off

    best: dict[str, Sold] = {}
    for one in sorted(found, key=key):
        best.setdefault(one.size, one)
    return tuple(list(best.values())[:MOST])


def _of(wanted: Task, now: Now, target_rpm: float, size: Size, offer: Offer) -> list[Sold]:
    """Every pattern of one size, in one kind of pack, that comes near."""
    kinds = list(patterns(wanted.rules.packet_sizes, wanted.rules.discs or (1, MOST_DISCS)))
    members = np.full((len(kinds), max(k.packets for k in kinds), 3), -1, dtype=np.intp)
    for row, kind in enumerate(kinds):
        for k, nested in enumerate(kind.sizes):
            members[row, k, :nested] = 0
    poisson = float(np.median(wanted.discs.poisson))
    one = discs(
        [size.od_mm], size.id_mm, size.thickness_mm, size.cone_height_mm, 0.0, size.modulus_mpa,
        poisson,
    )  # fmt: skip
    p = packets(one, members, wanted.model)
    travel, force = float(wanted.travel_mm.mean()), float(wanted.target_n.mean())
    datum, shims = wanted.datum_of(0), np.zeros(len(kinds))
    bears = np.where(p.present.any(-1), bearable(wanted, p), np.inf).min(-1)
    if datum.has_room:
        need = deflection(p, force) - required_deflection(p, datum, travel)
        shims = SHIM_STEP_MM * np.round(need / SHIM_STEP_MM)
    load = loads_below_flat(p, datum, travel, shims)
    rest = loads_below_flat(p, datum, 0.0, shims)
    low, high = wanted.rules.free_height_mm or (0.0, np.inf)
    free = (p.height_mm + p.free_mm).sum(-1)
    good = (load > 0) & (load <= bears) & (shims >= 0) & (shims <= MOST_SHIMS_MM)
    good &= (free >= low) & (free <= high)
    have = _have(wanted, size)
    made = []
    for at in np.flatnonzero(good).tolist():
        rpm = float(speed_rpm(now.pull_kgm, load[at]).mean())
        if abs(rpm - target_rpm) > NEAR_RPM:
            continue
        takes = wanted.shoes * sum(kinds[at].sizes)
        packs = offer.packs_for(takes - have)
        if packs is None:
            continue
        share = greatest_share(p.take(np.array([at])), load[at])
        made.append(
            Sold(
                size.name, str(kinds[at]), rpm, float(share.max()),
                bool(datum.has_room and not rest[at] >= LOOSE * force), float(shims[at]), takes,
                have, packs, offer.pack, offer.cost_of(packs), size.currency,
            )
        )  # fmt: skip
    return made


def _have(wanted: Task, size: Size) -> int:
    """Discs of the bag that are of this size, as far as their measures say."""
    d = wanted.discs.take(wanted.usable)
    same = np.abs(d.thickness_mm / size.thickness_mm - 1) <= SAME_THICKNESS
    same &= np.abs(d.cone_height_mm / size.cone_height_mm - 1) <= SAME_CONE
    return int(same.sum())
