"""What to buy, made or as it is sold, for an engagement speed that bag and shims do not give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.clutch.engagement import speed_rpm
from optimizer.estimate.problem import Task
from optimizer.hookup.today import ClutchState
from optimizer.match.packets import bearable
from optimizer.match.result import Assigned
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.datum import Datum, Installed
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.like_stacks import LikeStacks, nominal
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import deflection, loads_below_flat, required_deflection
from optimizer.mechanics.state import greatest_share, shares
from optimizer.model.catalog import Size
from optimizer.model.pattern import Pattern, patterns

#: thicknesses looked at, as shares of the bag's median, steps of half a per cent
RATIOS = np.linspace(0.7, 1.6, 181)
#: discs of one stack, shims in mm under one stack, and suggestions, at most
MOST_DISCS = 20
MOST_SHIMS_MM = 1.0
MOST = 2
LOOSE_AT_REST = ", but LOOSE at rest: it would rattle"


def shims_to_buy(wanted: Task, today: Assigned) -> tuple[str, ...]:
    """Say which shims under today's stacks would reach the target; on the seating datum none."""
    if not wanted.datum.has_room:
        return ()
    p = wanted.packets(today.stacks)
    share = float(greatest_share(p, wanted.target_n).max())
    need = deflection(p, wanted.target_n) - required_deflection(p, wanted.datum, wanted.travel_mm)
    if share > wanted.rules.deflection_limit:
        return (
            f"Shims cannot do it: today's stacks would be pressed to {share:.2f} h, beyond "
            f"{wanted.rules.deflection_limit:g} h.",
        )
    if need.min() < 0:
        return ("Shims cannot do it: today's stacks are too high without any.",)
    each = ", ".join(text.length(float(mm), wanted.units) for mm in need)
    at_rest = deflection(p, LOOSE * wanted.target_n) - required_deflection(p, wanted.datum, 0.0)
    loose = LOOSE_AT_REST if (at_rest > need).any() else ""
    return (f"Shims under today's stacks, shoe by shoe {each}: pressed to {share:.2f} h{loose}.",)


def discs_to_buy(wanted: Task) -> Iterator[str]:
    """Say thickness and pattern of discs of the bag's cone height, the nearest to today's first.

    Those that press at rest come before those that hang loose there.
    """
    units = wanted.units
    t = float(np.median(wanted.discs.thickness_mm[wanted.usable]))
    h = float(np.median(wanted.discs.cone_height_mm[wanted.usable]))
    found = sorted(_made(wanted), key=lambda one: (one[4], abs(one[1] - 1), one[0].packets % 2))
    for pattern, ratio, shim, share, loose in found[:MOST]:
        rattles = LOOSE_AT_REST if loose else ""
        shims = f", {text.length(shim, units)} of shims under each" if shim > 0 else ""
        yield (
            f"{wanted.shoes} x ({pattern}) of discs {text.length(t * ratio, units)} thick "
            f"({text.length(t, units)} in the bag), same diameters and cone height "
            f"{text.length(h, units)}{shims}: pressed to {share:.2f} h{rattles}. "
            f"{wanted.shoes * sum(pattern.sizes)} discs: you have none of them."
        )


def _made(wanted: Task) -> Iterator[tuple[Pattern, float, float, float, bool]]:
    """Yield pattern, thickness ratio, shims, share and looseness of what carries the target."""
    datum, travel, force = _typical(wanted)
    bag = wanted.discs.take(wanted.usable)
    every = {name: np.full(len(RATIOS), np.median(of)) for name, of in vars(bag).items()}
    middle = replace(bag, **every | {"thickness_mm": every["thickness_mm"] * RATIOS})
    stacks = LikeStacks.of(middle, _kinds(wanted), wanted.model)
    shims = _shims_mm(stacks, datum, travel, force)
    share = stacks.greatest(shares(stacks.packets, force))
    fits = share <= wanted.rules.deflection_limit
    fits &= stacks.within_height(wanted.rules.height_window_mm)
    if datum.has_room:
        fits &= (shims >= 0) & (shims <= MOST_SHIMS_MM)
    loose = _loose(stacks, datum, force, shims)
    for k, pattern in enumerate(stacks.kinds):
        at = np.arange(len(RATIOS)) if datum.has_room else _crossing(shims[:, k])
        at = at[fits[at, k]]
        if len(at):
            best = at[np.abs(RATIOS[at] - 1).argmin()], k
            shim = float(shims[best]) if datum.has_room else 0.0
            yield pattern, float(RATIOS[best[0]]), shim, float(share[best]), bool(loose[best])


def _kinds(wanted: Task) -> list[Pattern]:
    """Patterns looked at."""
    return list(patterns(wanted.rules.packet_sizes, wanted.rules.discs or (1, MOST_DISCS)))


def _typical(wanted: Task) -> tuple[Datum, float, float]:
    """Datum, travel in mm and target in N of the mean shoe."""
    datum = wanted.datum
    if datum.has_room:
        datum = Installed(float(datum.lengths_mm(wanted.shoes).mean()))
    return datum, float(wanted.travel_mm.mean()), float(wanted.target_n.mean())


def _shims_mm(stacks: LikeStacks, datum: Datum, travel_mm: float, force_n: float) -> Array:
    """Shims (D, K) on which stacks carry a load at a travel, below 0 where they are too high.

    On a seating load, where shims change nothing: how much too little they are pressed.
    """
    return np.asarray(stacks.constant_mm(force_n, datum) - datum.required_travel_mm(travel_mm))


def _loose(stacks: LikeStacks, datum: Datum, force_n: float, shims_mm: Array) -> Mask:
    """Tell which stacks (D, K) on shims hang loose at rest, by the rule of `match`."""
    return np.asarray((_shims_mm(stacks, datum, 0.0, LOOSE * force_n) > shims_mm) & datum.has_room)


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
class SoldOption:
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


def sold_ways(
    wanted: Task, now: ClutchState, target_rpm: float, sizes: Sequence[Size]
) -> tuple[SoldOption, ...]:
    """Return the best few sizes and patterns: those that press at rest, near the speed, cheapest.

    Loads are of nominal discs: what is delivered differs, and is measured and matched then.
    """

    def key(one: SoldOption) -> tuple[float, ...]:
        off = abs(one.rpm - target_rpm)
        return one.loose, round(off / 25), one.cost or 0.0, one.packs, off

    best: dict[str, SoldOption] = {}
    for one in sorted(_sold(wanted, now, target_rpm, sizes), key=key):
        best.setdefault(one.size, one)
    return tuple(list(best.values())[:MOST_SOLD])


def _sold(
    wanted: Task, now: ClutchState, target_rpm: float, sizes: Sequence[Size]
) -> Iterator[SoldOption]:
    """Yield every pattern of every size that fits, in every kind of pack, that comes near."""
    bag = wanted.discs.take(wanted.usable)
    od, bore = float(np.median(bag.od_mm)), float(np.median(bag.id_mm))
    fit = [s for s in sizes if abs(s.od_mm - od) <= FITS_MM and abs(s.id_mm - bore) <= FITS_MM]
    steel = nominal(fit, poisson=float(np.median(wanted.discs.poisson)))
    stacks = LikeStacks.of(steel, _kinds(wanted), wanted.model)
    datum, travel, force = _typical(wanted)
    shims = np.zeros((len(fit), len(stacks.kinds)))
    if datum.has_room:
        shims = SHIM_STEP_MM * np.round(_shims_mm(stacks, datum, travel, force) / SHIM_STEP_MM)
    may = (shims >= 0) & (shims <= MOST_SHIMS_MM)
    at = np.nonzero(may & stacks.within_height(wanted.rules.height_window_mm))
    p = stacks.stacks(*at)
    load = loads_below_flat(p, datum, travel, shims[at])
    rpm = speed_rpm(now.pull_kgm, load[:, None]).mean(-1)
    good = (load > 0) & (load <= stacks.least(bearable(wanted, stacks.packets))[at])
    near = np.flatnonzero(good & (np.abs(rpm - target_rpm) <= NEAR_RPM))
    share = greatest_share(p.take(near), load[near])
    loose = _loose(stacks, datum, force, shims)
    for row, pressed in zip(near, share, strict=True):
        here = d, k = at[0][row], at[1][row]
        size, pattern = fit[d], stacks.kinds[k]
        takes, have = wanted.shoes * pattern.discs, _have(wanted, size)
        for offer in size.offers:
            packs = offer.packs_for(takes - have)
            if packs is not None:
                yield SoldOption(
                    size.name, str(pattern), float(rpm[row]), float(pressed), bool(loose[here]),
                    float(shims[here]), takes, have, packs, offer.pack, offer.cost_of(packs),
                    size.currency,
                )  # fmt: skip


def _have(wanted: Task, size: Size) -> int:
    """Discs of the bag that are of this size, as far as their measures say."""
    d = wanted.discs.take(wanted.usable)
    same = np.abs(d.thickness_mm / size.thickness_mm - 1) <= SAME_THICKNESS
    same &= np.abs(d.cone_height_mm / size.cone_height_mm - 1) <= SAME_CONE
    return int(same.sum())
