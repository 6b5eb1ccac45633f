"""Sizes and patterns that would do if every disc were nominal, and the limits that stacks keep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.errors import CannotBuildError
from optimizer.frozen import frozen_arrays
from optimizer.match.result import surcharge
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.constant import packet_constant, packet_constant_gradient
from optimizer.mechanics.disc import Array, Discs, Mask
from optimizer.mechanics.packet import Index, compliance, limit_load, packets, residual_cone_height
from optimizer.mechanics.stack import free_height
from optimizer.mechanics.state import stresses
from optimizer.model.catalog import Size
from optimizer.model.pattern import Pattern, patterns
from optimizer.orders.catalog import nominal
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

    `load_n` is what the nominal stack on `shim_mm` carries at the travel, to first order
    about the target; `share` the deflection over the cone height of its most pressed packet;
    `off` is the distance from the target as a share of what choosing among discs can mend;
    `gap_mm` how far the stack with its shim is from filling its place at rest, 0 where it
    presses there.
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


@dataclass(frozen=True)
@frozen_arrays
class _Packets:
    """Nominal packets of 1 to 3 discs of one size, arrays (3)."""

    constant_mm: Array
    compliance: Array
    share: Array
    free_mm: Array
    fits: Mask
    sd_mm: Array
    stress_mpa: Array


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
    if not usable:
        return []
    steel = nominal(usable, making.flat_mm, clutch.poisson)
    found = []
    for at, size in enumerate(usable):
        one = _packets_of(steel.take(np.array([at])), size, clutch, making)
        found += _of_size(size, one, clutch)
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
        raise CannotBuildError.of(
            f"Expected stacks of single discs that groups of {groups} divide; none that "
            "reaches the target is so.",
            "--groups",
            "Gauge groups of another size, or plan for --rounds of gauge and swap.",
        )
    if not every:
        raise CannotBuildError.of(
            "No size of the catalog reaches the target load within the limits of deflection, "
            "height and stress.",
            clutch.name,
            "Allow more packet_sizes or discs in the job, widen the height window, or give a "
            "catalog with other sizes.",
        )
    return every


def _packets_of(steel: Discs, size: Size, clutch: OrderedClutch, making: Manufacture) -> _Packets:
    members: Index = np.where(np.arange(3) <= np.arange(3)[:, None], 0, -1)
    p = packets(steel, members, clutch.model)
    x = residual_cone_height(p, clutch.target_n)
    share = 1 - x / p.free_mm
    slope = packet_constant_gradient(steel, members, clutch.model, clutch.datum, clutch.target_n)
    t_sd, l_sd = (disc_sd(b, making) for b in (size.limits.thickness, size.limits.height))
    by_t, by_h = slope[:, 0, 0] - slope[:, 0, 1], slope[:, 0, 1]
    within = np.hypot(by_t * t_sd, by_h * l_sd)  # thickness at a given overall height
    at_flat = stresses(steel.take(np.zeros(3, dtype=np.intp)), share * size.cone_height_mm)
    return _Packets(
        packet_constant(steel, members, clutch.model, clutch.datum, clutch.target_n),
        compliance(p, x),
        share,
        p.height_mm + p.free_mm,
        (clutch.target_n < limit_load(p)) & (share <= clutch.rules.deflection_limit),
        within,
        np.abs(at_flat.om),
    )


def _of_size(size: Size, one: _Packets, clutch: OrderedClutch) -> list[Candidate]:
    low, high = clutch.rules.free_height_mm or (0.0, np.inf)
    sizes = tuple(k for k in clutch.rules.packet_sizes if one.fits[k - 1])
    window = clutch.rules.discs or (1, MOST_DISCS)
    every = list(patterns(sizes, window)) if sizes else []
    if not every:
        return []
    counts = np.array([p.counts for p in every])
    length = counts @ one.free_mm
    soft = counts @ one.compliance
    short = (clutch.rooms_mm[:, None] - counts @ one.constant_mm) / soft  # by shims and pattern
    shims = np.abs(short).argmin(0)
    load_n = clutch.target_n + short[shims, np.arange(len(every))]
    rate = 1 / soft
    # members of a packet average, packets of a stack add: all discs of a lot move together
    reach = clutch.load_tolerance_n + REACH_SD * rate * (counts @ one.sd_mm)
    more = (clutch.worn_travel_mm - clutch.travel_mm) * rate
    off = np.abs(load_n - clutch.target_n) / reach
    gap = _gap_mm(clutch, length + np.array(clutch.shims_mm)[shims], rate)
    found = []
    for i, pattern in enumerate(every):
        used = counts[i] > 0
        worn_share = one.share[used].max() * (1 + more[i] / clutch.target_n)
        stress = one.stress_mpa[used].max() * (1 + more[i] / clutch.target_n)
        if (
            off[i] <= 1
            and low <= length[i] <= min(high, MOST_SLENDER * size.od_mm)
            and worn_share < 1
            and stress <= STATIC_LIMIT_MPA
        ):
            found.append(
                Candidate(
                    size, pattern, float(load_n[i]), float(rate[i]), float(one.share[used].max()),
                    float(length[i]), float(stress), float(off[i]), clutch.shims_mm[shims[i]],
                    float(gap[i]),
                )
            )  # fmt: skip
    return found


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
    low, high = rules.free_height_mm or (0.0, np.inf)
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
