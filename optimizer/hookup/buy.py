"""What to buy, made or as it is sold, for an engagement speed that bag and shims do not give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.clutch.engagement import speed_rpm
from optimizer.estimate.problem import Task
from optimizer.hookup.today import Now
from optimizer.match.packets import bearable
from optimizer.match.result import Assigned
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.disc import Array, discs
from optimizer.mechanics.packet import Index, packets, residual_cone_height
from optimizer.mechanics.stack import deflection, loads_below_flat, required_deflection
from optimizer.mechanics.state import greatest_share
from optimizer.model.catalog import Offer, Size
from optimizer.model.pattern import Pattern, patterns

#: thicknesses looked at, as shares of the bag's median, steps of half a per cent
RATIOS = np.linspace(0.7, 1.6, 181)
#: discs of one stack, shims in mm under one stack, and suggestions, at most
MOST_DISCS = 20
MOST_SHIMS_MM = 1.0
MOST = 2
LOOSE_AT_REST = ", but LOOSE at rest: it would rattle"
SIZES = np.array([[0, -1, -1], [0, 0, -1], [0, 0, 0]])


def shims_to_buy(wanted: Task, today: Assigned, units: str) -> tuple[str, ...]:
    """Say which shims under today's stacks would reach the target; on the seating datum none."""
    if not wanted.datum.has_room:
        return ()
    p = packets(wanted.discs, today.stacks, wanted.model)
    share = float(greatest_share(p, wanted.target_n).max())
    need = deflection(p, wanted.target_n) - required_deflection(p, wanted.datum, wanted.travel_mm)
    if share > wanted.rules.deflection_limit:
        return (
            f"Shims cannot do it: today's stacks would be pressed to {share:.2f} h, beyond "
            f"{wanted.rules.deflection_limit:g} h.",
        )
    if need.min() < 0:
        return ("Shims cannot do it: today's stacks are too high without any.",)
    each = ", ".join(text.length(float(mm), units) for mm in need)
    at_rest = deflection(p, LOOSE * wanted.target_n) - required_deflection(p, wanted.datum, 0.0)
    loose = LOOSE_AT_REST if (at_rest > need).any() else ""
    return (f"Shims under today's stacks, shoe by shoe {each}: pressed to {share:.2f} h{loose}.",)


def discs_to_buy(wanted: Task, units: str) -> Iterator[str]:
    """Say thickness and pattern of discs of the bag's cone height, the nearest to today's first.

    Those that press at rest come before those that hang loose there.
    """
    t = float(np.median(wanted.discs.thickness_mm[wanted.usable]))
    h = float(np.median(wanted.discs.cone_height_mm[wanted.usable]))
    found = sorted(_patterns(wanted), key=lambda one: (one[4], abs(one[1] - 1), one[0].packets % 2))
    for pattern, ratio, shim, share, loose in found[:MOST]:
        rattles = LOOSE_AT_REST if loose else ""
        shims = f", {text.length(shim, units)} of shims under each" if shim > 0 else ""
        yield (
            f"{wanted.shoes} x ({pattern}) of discs {text.length(t * ratio, units)} thick "
            f"({text.length(t, units)} in the bag), same diameters and cone height "
            f"{text.length(h, units)}{shims}: pressed to {share:.2f} h{rattles}. "
            f"{wanted.shoes * sum(pattern.sizes)} discs: you have none of them."
        )


def _patterns(wanted: Task) -> Iterator[tuple[Pattern, float, float, float, bool]]:
    """Yield pattern, thickness ratio, shims, share and looseness of what carries the target."""
    force = float(wanted.target_n.mean())
    disc = wanted.discs.take(wanted.usable)
    middle = replace(
        disc, **{name: np.full(len(RATIOS), np.median(v)) for name, v in vars(disc).items()}
    )
    middle = replace(middle, thickness_mm=middle.thickness_mm * RATIOS)
    p = packets(
        middle, np.where(SIZES < 0, -1, np.arange(len(RATIOS))[:, None, None]), wanted.model
    )
    left = residual_cone_height(p, force)  # (ratios, sizes)
    at_rest = residual_cone_height(p, LOOSE * force)
    share = 1 - left / p.free_mm
    fits = share <= wanted.rules.deflection_limit
    travel = float(wanted.travel_mm.mean())
    window = wanted.rules.discs or (1, MOST_DISCS)
    for pattern in patterns(wanted.rules.packet_sizes, window):
        counts = np.array(pattern.counts)
        used = counts > 0
        if not wanted.datum.has_room:
            short = (wanted.datum.base_mm(p) - left) @ counts - travel
            at = _crossing(short)
        else:
            length = float(wanted.datum.lengths_mm(wanted.shoes).mean())
            short = length - travel - (p.height_mm + left) @ counts
            at = np.flatnonzero((short >= 0) & (short <= MOST_SHIMS_MM))
        free = (p.height_mm + p.free_mm) @ counts
        low, high = wanted.rules.free_height_mm or (0.0, np.inf)
        at = at[fits[at][:, used].all(1) & (free[at] >= low) & (free[at] <= high)]
        if len(at):
            best = at[np.abs(RATIOS[at] - 1).argmin()]
            shim = float(short[best]) if wanted.datum.has_room else 0.0
            loose = wanted.datum.has_room and bool(
                (p.height_mm + at_rest)[best] @ counts + shim < length
            )
            yield pattern, float(RATIOS[best]), shim, float(share[best][used].max()), loose


def _crossing(short: Array) -> Index:
    """Places where a falling or rising row of values is nearest to 0 at a change of sign."""
    change = np.flatnonzero(np.sign(short[:-1]) != np.sign(short[1:]))
    return change + (np.abs(short[change + 1]) < np.abs(short[change]))


#: a size fits where its diameters are within this of the bag's, in mm
FITS_MM = 0.3
#: discs of the bag count as a size where thickness and cone height are so near, as shares
SAME_THICKNESS, SAME_CONE = 0.03, 0.1
#: shims are sold in steps of this, in mm
SHIM_STEP_MM = 0.05
#: an answer this far from the speed asked for is still worth a line, and lines
NEAR_RPM, MOST_SOLD = 120.0, 3


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
    return tuple(list(best.values())[:MOST_SOLD])


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
