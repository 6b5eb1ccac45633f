"""Sizes and patterns that would do if every disc were nominal, and the limits that stacks keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import CannotBuildError
from optimizer.match.result import surcharge
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.like_stacks import LikeStacks, nested, nominal
from optimizer.mechanics.packet import Index, compliance, limit_load, packets, residual_cone_height
from optimizer.mechanics.stack import free_height, loads_below_flat
from optimizer.mechanics.state import stresses
from optimizer.model.catalog import Size
from optimizer.model.pattern import Pattern, patterns
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.lot import disc_sd
from optimizer.orders.manufacture import Manufacture

#: stack length over outside diameter (common supplier guidance)
MOST_SLENDER = 3.0
#: largest sigma_OM in MPa of spring steel under static or rare load (DIN 2092; memory)
STATIC_LIMIT_MPA = 1600.0
#: a stack may be this many standard deviations of a disc off target and still be bought
REACH_SD = 2.0
#: discs a stack may have where the job does not say
MOST_DISCS = 24


@dataclass(frozen=True)
class Candidate:
    """A size and pattern that could serve, at its nominal working point.

    `load_n` is what the nominal stack on `shim_mm` carries at the travel, `rate_n_per_mm` and
    `share`, the deflection over the cone height of its most pressed packet, are those at the
    target; `off` is the distance from the target, to first order, as a share of what choosing
    among discs can mend; `gap_mm` how far the stack with its shim is from filling its place at
    rest, 0 where it presses there.
    """

    size: Size
    pattern: Pattern
    load_n: float
    rate_n_per_mm: float
    share: float
    length_mm: float
    stress_mpa: float
    off: float
    shim_mm: float
    gap_mm: float

    @property
    def merit(self) -> float:
        """What the discs of a stack cost, dearer when far off target or less steady."""
        return self.pattern.discs * self.size.each * surcharge((self.pattern,)) * (1 + self.off)

    def in_groups(self, size: int) -> bool:
        """Whether its stacks are made of single discs that groups of a size divide."""
        return self.pattern.packets == self.pattern.discs and self.pattern.discs % size == 0


def candidates(
    sizes: tuple[Size, ...], clutch: OrderedClutch, making: Manufacture
) -> list[Candidate]:
    """List sizes and patterns that reach the target within all limits, least cost first.

    Those that press at rest come before those that hang loose there.

    Notes
    -----
    Limits: h/t below sqrt 2, deflection limit and height window of the job, not flat on a
    worn drum, sigma_OM (EN 16984) at the worn travel, stack length at most three outside
    diameters. A stack counts as near enough when discs chosen from the better part of a lot
    would put it on target.
    """
    usable = tuple(s for s in sizes if s.steepness < np.sqrt(2))
    rules, target = clutch.rules, clutch.target_n
    kinds = list(patterns(rules.packet_sizes, rules.discs or (1, MOST_DISCS)))
    if not usable or not kinds:
        return []
    steel = nominal(usable, making.flat_mm, clutch.poisson)
    stacks = LikeStacks.of(steel, kinds, clutch.model)
    p, nests = stacks.packets, nested(len(usable))[:, :3]
    left = residual_cone_height(p, target)
    share = 1 - left / p.free_mm
    at = np.nonzero(
        (stacks.least(limit_load(p)) > target)
        & (stacks.greatest(share) <= rules.deflection_limit)
        & stacks.within_height(rules.height_window_mm)
        & (stacks.free_height_mm <= MOST_SLENDER * steel.od_mm[:, None])
    )
    rate = 1 / stacks.total(compliance(p, left))[at]
    # members of a packet average, packets of a stack add: all discs of a lot move together
    reach_mm = REACH_SD * stacks.total(_constant_sd_mm(steel, nests, usable, clutch, making))[at]
    short_mm = np.abs(clutch.rooms_mm - stacks.constant_mm(target, clutch.datum)[at][:, None])
    shim = np.array(clutch.shims_mm)[short_mm.argmin(-1)]
    off = short_mm.min(-1) * rate / (clutch.load_tolerance_n + rate * reach_mm)
    worn = 1 + (clutch.worn_travel_mm - clutch.travel_mm) * rate / target
    pressed, length = stacks.greatest(share)[at], stacks.free_height_mm[at]
    om = stresses(steel.take(nests[..., 0]), share * steel.cone_height_mm[:, None]).om
    stress = stacks.greatest(np.abs(om))[at] * worn
    near = np.flatnonzero((off <= 1) & (pressed * worn < 1) & (stress <= STATIC_LIMIT_MPA))
    size, kind = at[0][near], at[1][near]
    load = loads_below_flat(stacks.stacks(size, kind), clutch.datum, clutch.travel_mm, shim[near])
    gap = _gap_mm(clutch, length + shim, rate)
    numbers = (of[near] for of in (rate, pressed, length, stress, off, shim, gap))
    found = [
        Candidate(usable[d], kinds[k], *map(float, row))
        for d, k, *row in zip(size, kind, load, *numbers, strict=True)
    ]
    return sorted(found, key=lambda c: (c.gap_mm > 0, c.merit))


def able(sizes: tuple[Size, ...], clutch: OrderedClutch, making: Manufacture) -> list[Candidate]:
    """Return the candidates that suit the work on the bench.

    Raises
    ------
    CannotBuildError
        when there is none.
    """
    every = candidates(sizes, clutch, making)
    groups = clutch.work.groups
    if every and groups and not (every := [c for c in every if c.in_groups(groups)]):
        raise CannotBuildError(
            f"Expected stacks of single discs that groups of {groups} divide; none that "
            "reaches the target is so.",
            "--groups",
            "Gauge groups of another size, or plan for --rounds of gauge and swap.",
        )
    if not every:
        raise CannotBuildError(
            "No size of the catalog reaches the target load within the limits of deflection, "
            "height and stress.",
            clutch.name,
            "Allow more packet_sizes or discs in the job, widen the height window, or give a "
            "catalog with other sizes.",
        )
    return every


def _constant_sd_mm(
    steel: Discs, members: Index, sizes: Sequence[Size], clutch: OrderedClutch, making: Manufacture
) -> Array:
    """Sd (D, 3) of the constant of packets (D, 3, 3) whose discs are all as far off nominal."""
    slope = packet_constant_gradient(steel, members, clutch.model, clutch.datum, clutch.target_n)
    by_t, by_h = slope[..., 0, 0] - slope[..., 0, 1], slope[..., 0, 1]
    t_sd, l_sd = (
        np.array([disc_sd(band, making) for band in bands])[:, None]
        for bands in zip(*((s.limits.thickness, s.limits.height) for s in sizes), strict=True)
    )
    sd: Array = np.hypot(by_t * t_sd, by_h * l_sd)  # thickness at a given overall height
    return sd


def _gap_mm(clutch: OrderedClutch, height_mm: Array, rate_n_per_mm: Array) -> Array:
    """How far unloaded stacks are from pressing in their place at rest, by the rule of `match`."""
    if not clutch.datum.has_room:
        return np.zeros_like(height_mm)
    pressed = LOOSE * clutch.target_n / rate_n_per_mm
    return np.maximum(float(clutch.datum.lengths_mm(1).mean()) + pressed - height_mm, 0.0)


def keeps_limits(
    candidate: Candidate, clutch: OrderedClutch, discs: Discs, members: Index, shim_mm: float
) -> bool:
    """Tell whether all stacks `members` (sets, shoes, packets, seats) keep them, as measured.

    Notes
    -----
    At the target, to which they are dealt: the free height in its window, every packet within
    the deflection limit, and on a worn drum (by the rate of the nominal stack) not flat and within
    that limit where there is one. In a room every stack presses at rest, unless it need not or its
    size and pattern hang loose there anyway.
    """
    rules, rate = clutch.rules, candidate.rate_n_per_mm
    p = packets(discs, members.reshape(-1, *members.shape[2:]), clutch.model)
    height = free_height(p)
    low, high = rules.height_window_mm
    if height.min() < low or height.max() > high:
        return False
    worn_n = clutch.target_n + rate * (clutch.worn_travel_mm - clutch.travel_mm)
    for load_n, limit in (
        (clutch.target_n, rules.deflection_limit),
        (worn_n, rules.worn_limit or 1),
    ):
        share = 1 - residual_cone_height(p, load_n) / p.free_mm
        if share.max() > limit:
            return False
    if clutch.datum.has_room and clutch.pressing and not candidate.gap_mm:
        place = float(clutch.datum.lengths_mm(1).mean()) + LOOSE * clutch.target_n / rate
        return bool(height.min() + shim_mm >= place)
    return True
