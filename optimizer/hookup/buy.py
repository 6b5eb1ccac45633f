"""What to buy for an engagement speed that bag and shims on hand do not give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer import text
from optimizer.estimate.problem import Task, members_of
from optimizer.match.result import Assigned
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, packets, residual_cone_height
from optimizer.mechanics.stack import deflection, required_deflection
from optimizer.mechanics.state import greatest_share
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
    p = packets(wanted.discs, members_of(today.stacks), wanted.model)
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
