"""Whether the sets asked for can be built from the first packs of a delivery.

The buyer deals by what was measured (and learned on the gauge); whether sets are on target is
judged by the discs as they are. Sets must match as measured and keep every limit of the job; how
they truly match is what the bench makes of them (`response.py`): more discs do not mend it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.match.dealing import Items, deal_sets
from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.like_discs import LikeConstants, stiffer
from optimizer.orders.nominal import keeps_limits
from optimizer.orders.study import Study
from optimizer.orders.unpack import Unpacked

#: part of the resolution that the dealing leaves to rounding
INSIDE = 0.9
#: difference in N from target that is none
EQUAL_N = 1e-9


@dataclass(frozen=True)
@frozen_arrays
class BuiltSets:
    """Sets built: true mean load of the discs of each less its target, in N (sets).

    `members` (sets, shoes, packets, seats) are the discs, -1 where there is none; every
    stack stands on shims of `shim_mm`.
    """

    off_n: Array
    members: Index
    shim_mm: float


@dataclass(frozen=True)
@frozen_arrays
class DiscStream:
    """A stream of discs ready to be dealt into stacks of one candidate.

    `constant_n` and `true_constant_n` (n) are the constant in N of a whole stack of discs like
    each: a stack of some discs has their mean, to first order.
    """

    study: Study
    unpacked: Unpacked
    constant_n: Array
    true_constant_n: Array

    @cached_property
    def rooms_n(self) -> Array:
        """What the constant of a stack's discs should be on average, by shims (R)."""
        return self.study.clutch.rooms_mm * self.study.candidate.rate_n_per_mm

    def least_off_n(self, count: int, needed: int | None = None) -> tuple[float, float]:
        """Signed distance in N from target of the best choice from `count` discs, if there is one.

        As measured, and truly: discs are nearer the mean than was measured.
        """
        needed = needed or self.study.needed
        if count < needed:
            return np.inf, np.inf
        shims, off = self._nearest(count, needed)
        apart = float(self.rooms_n[shims]) - off - float(self.constant_n.mean())
        return off, off + self.error_n + (1 - self.kept_share) * apart

    def _nearest(self, count: int, needed: int) -> tuple[int, float]:
        """Which shims bring stacks nearest to target, of several those that leave discs alike."""
        off = self._off_n(count, needed)
        alike_n = np.abs(self.rooms_n - self.constant_n[:count].mean())
        best = np.lexsort((alike_n, np.abs(off)))[0]
        return int(best), float(off[best])

    def shims(self, count: int) -> Index:
        """Which of the shims bring the stacks of the first `count` discs nearest to target.

        First those that leave the discs most alike; then, thinnest first, thicker ones that do as
        well: softer discs stand on them, which press more at rest.
        """
        needed = self.study.needed
        first, least = self._nearest(count, needed)
        near = np.abs(self._off_n(count, needed)) <= abs(least) + EQUAL_N
        return np.append(first, np.flatnonzero(near[first + 1 :]) + first + 1)

    def _off_n(self, count: int, needed: int) -> Array:
        """Signed distances in N from target that choosing from `count` discs leaves, by shims."""
        ordered = np.sort(self.constant_n[:count])
        least, most = ordered[:needed].mean(), ordered[count - needed :].mean()
        return self.rooms_n - np.clip(self.rooms_n, least, most)

    @cached_property
    def error_n(self) -> float:
        """True load less believed load of an average stack."""
        return float(self.constant_n.mean() - self.true_constant_n.mean())

    @cached_property
    def kept_share(self) -> float:
        """Part of what sets discs apart from the mean, as measured, that is truly there.

        The slope of the true constant on the believed one; below 1 where thickness and height err.
        """
        off = self.constant_n - self.constant_n.mean()
        own = float(off @ off)
        return float(off @ self.true_constant_n) / own if own else 1.0

    @cached_property
    def scatter_n(self) -> float:
        """Sd in N of the true mean load of a set about what was believed, lot error aside."""
        discs = self.study.clutch.discs(self.study.candidate.pattern, sets=1)
        return float((self.constant_n - self.true_constant_n).std() / np.sqrt(discs))

    def may_do(
        self, count: int, reach_n: tuple[float, float] = (0.0, 0.0), needed: int | None = None
    ) -> bool:
        """Tell whether `count` discs could do, but for the dealing.

        `reach_n` is how far the lowest and the highest set lie from the mean of all.
        """
        tolerance = self.study.clutch.load_tolerance_n
        measured, true = self.least_off_n(count, needed)
        low, high = (true + reach for reach in reach_n)
        return abs(measured) <= tolerance and -tolerance <= low and high <= tolerance


def disc_streams(
    study: Study, unpacked: Unpacked, like: LikeConstants, factor: float
) -> tuple[DiscStream, DiscStream]:
    """Lay out discs for a study: as learned on the gauge, and as measured alone.

    On the gauge the new discs were found to be `factor` times as stiff.
    """
    weight = np.array(study.candidate.pattern.counts) * study.candidate.rate_n_per_mm
    true_constant_n = weight @ like.true
    after = replace(unpacked, believed=stiffer(unpacked.believed, like.new, factor))
    return (
        DiscStream(study, after, weight @ like.learned(factor), true_constant_n),
        DiscStream(study, unpacked, weight @ like.measured, true_constant_n),
    )


def _constant_n(study: Study, discs: Discs, members: Index) -> Array:
    clutch = study.clutch
    constant = packet_constant(discs, members, clutch.model, clutch.datum, clutch.target_n)
    return constant * study.candidate.rate_n_per_mm


def build(on: DiscStream, count: int, rng: np.random.Generator) -> BuiltSets | None:
    """Deal the first `count` discs into the sets asked for; None where not all can be."""
    if count < on.study.needed:
        return None
    for shims in on.shims(count):
        chosen, spare = _chosen(on, count, float(on.rooms_n[shims]))
        found = _dealt(on, _nested(on, chosen), shims, rng) or (
            _dealt(on, np.concatenate([_nested(on, chosen), _nested(on, spare)]), shims, rng)
            if len(spare)
            else None
        )
        if found is not None:
            return found
    return None


def _chosen(on: DiscStream, count: int, room_n: float) -> tuple[Index, Index]:
    """Choose the discs for all stacks, most alike with their mean on target; and the rest."""
    needed, pattern = on.study.needed, on.study.candidate.pattern
    order = np.argsort(on.constant_n[:count], kind="stable")
    total = np.concatenate([[0.0], np.cumsum(on.constant_n[order])])
    sums = total[needed:] - total[: len(total) - needed]
    start = int(np.abs(sums - needed * room_n).argmin())
    rest = np.concatenate([order[:start], order[start + needed :]])
    whole = len(rest) - len(rest) % pattern.discs
    return order[start : start + needed], rest[:whole]


def _nested(on: DiscStream, discs: Index) -> Index:
    """Nest neighbours in cone height, in runs that each hold the packets of one stack."""
    pattern = on.study.candidate.pattern
    height = on.unpacked.believed.cone_height_mm[discs]
    runs = discs[np.argsort(-height, kind="stable")].reshape(-1, pattern.discs)
    members = np.full((len(runs), pattern.packets, max(pattern.sizes)), -1, dtype=np.intp)
    start = 0
    for at, size in enumerate(pattern.sizes):
        members[:, at, :size] = runs[:, start : start + size]
        start += size
    return members.reshape(-1, members.shape[-1])


def _dealt(
    on: DiscStream, members: Index, shims: int, rng: np.random.Generator
) -> BuiltSets | None:
    study, room_n = on.study, float(on.rooms_n[shims])
    clutch, candidate = study.clutch, study.candidate
    value = _constant_n(study, on.unpacked.believed, members)
    units = Items(
        values=value[:, None, None],
        kind=(members >= 0).sum(1),
        room=np.full((1, 1), room_n),
        slack=np.array([INSIDE * clutch.resolution_n / 2]),
        free=np.array([True]),
    )
    dealt = deal_sets(
        units, candidate.pattern.by_size, clutch.shoes, clutch.sets, clutch.spread_n,
        clutch.load_tolerance_n, rng,
    )  # fmt: skip
    if len(dealt) < clutch.sets:
        return None
    used = members[dealt]
    if not keeps_limits(candidate, clutch, on.unpacked.believed, used, clutch.shims_mm[shims]):
        return None
    off = room_n - _constant_n(study, on.unpacked.true, used).sum(-1)
    return BuiltSets(off.mean(1), used, clutch.shims_mm[shims])


def first_built_n(on: DiscStream, built: BuiltSets, rng: np.random.Generator) -> Array:
    """Spread (sets) in N as first built: edges settle, flats are off, shoes differ."""
    study, true, members = on.study, on.unpacked.true, built.members
    clutch = study.clutch
    edges, flats = rng.standard_normal((2, len(true.factor)))
    flat_mm = true.flat_mm + np.where(true.flat_mm > 0, clutch.instrument.flat_sd_mm * flats, 0.0)
    settled = replace(
        true,
        factor=true.factor * np.exp(clutch.scatter * edges),
        flat_mm=np.maximum(flat_mm, 0.0),
    )
    place = clutch.place_sd_mm * rng.standard_normal(members.shape[:2])
    further: Array = study.candidate.rate_n_per_mm * place
    load = further - _constant_n(study, settled, members).sum(-1)
    spread: Array = np.ptp(load, axis=1)
    return spread


def on_target(built: BuiltSets | None, clutch: OrderedClutch) -> bool:
    """Tell whether every set asked for was built and truly is on target."""
    return built is not None and bool(np.abs(built.off_n).max() <= clutch.load_tolerance_n)
