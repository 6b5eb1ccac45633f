"""Whether the sets asked for can be built from the first packs of a delivery.

The buyer deals by what was measured (and learned on the gauge); whether the sets are on
target is judged by the discs as they are. Sets must match as measured; the match that
they truly have is reported, not asked for, as the bench mends it and more discs do not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.assignment.dealing import Units, deal_sets
from optimizer.orders.clutch import Clutch
from optimizer.orders.nominal import Candidate
from optimizer.orders.unpack import Unpacked, joined
from optimizer.physics.constant import packet_constant
from optimizer.physics.disc import Array, Discs
from optimizer.physics.packet import Index

#: part of the resolution that the dealing leaves to rounding
INSIDE = 0.9


@dataclass(frozen=True)
class Built:
    """True mean load less target and true spread of each set built, in N (sets)."""

    off_n: Array
    spread_n: Array


@dataclass(frozen=True)
class Bench:
    """A stream of discs ready to be dealt into stacks of one candidate.

    `worth` and `true_worth` (n) are the constant in N of a whole stack of discs like each:
    a stack of some discs has their mean, to first order.
    """

    candidate: Candidate
    clutch: Clutch
    unpacked: Unpacked
    worth: Array
    true_worth: Array

    @property
    def room_n(self) -> float:
        """What the worth of a stack's discs should be on average."""
        return self.clutch.room_mm * self.candidate.rate_n_per_mm

    @property
    def needed(self) -> int:
        """Discs in all the stacks."""
        return self.candidate.pattern.discs * self.clutch.shoes * self.clutch.sets

    def best_off_n(self, count: int, needed: int | None = None) -> float:
        """Least signed distance in N from target that choosing from `count` discs leaves."""
        needed = self.needed if needed is None else needed
        if count < needed:
            return np.inf
        ordered = np.sort(self.worth[:count])
        least, most = ordered[:needed].mean(), ordered[count - needed :].mean()
        return float(self.room_n - np.clip(self.room_n, least, most))

    @cached_property
    def error_n(self) -> float:
        """True load less believed load of an average stack."""
        return float(self.worth.mean() - self.true_worth.mean())

    @cached_property
    def scatter_n(self) -> float:
        """Sd in N of the true mean load of a set about what was believed, lot error aside."""
        discs = self.candidate.pattern.discs * self.clutch.shoes
        return float((self.worth - self.true_worth).std() / np.sqrt(discs))

    def may_do(self, count: int, needed: int | None = None, margin_n: float = 0.0) -> bool:
        """Tell whether `count` discs could do, but for the dealing."""
        off, tolerance = self.best_off_n(count, needed), self.clutch.load_tolerance_n
        return abs(off) <= tolerance and abs(off + self.error_n) <= tolerance - margin_n


def benches(
    candidate: Candidate, clutch: Clutch, unpacked: Unpacked, new: int, factor: float
) -> tuple[Bench, Bench]:
    """Lay out discs for a candidate: as learned on the gauge, and as measured alone.

    On the gauge the discs from place `new` on were found to be `factor` times as stiff.
    """
    blind = unpacked.believed
    known = blind.factor.copy()
    known[new:] *= factor
    learned = replace(blind, factor=known)
    together = joined(learned, blind, unpacked.true)
    worth, blind_worth, true_worth = _worth(candidate, clutch, together).reshape(3, -1)
    after = replace(unpacked, believed=learned)
    return (
        Bench(candidate, clutch, after, worth, true_worth),
        Bench(candidate, clutch, unpacked, blind_worth, true_worth),
    )


def _worth(candidate: Candidate, clutch: Clutch, discs: Discs) -> Array:
    each = np.arange(len(discs.thickness_mm))
    total = np.zeros(len(each))
    for size, count in enumerate(candidate.pattern.counts, 1):
        if count:
            alike = np.repeat(each[:, None], size, axis=1)
            total += count * _constant_n(candidate, clutch, discs, alike)
    return total


def _constant_n(candidate: Candidate, clutch: Clutch, discs: Discs, members: Index) -> Array:
    constant = packet_constant(discs, members, clutch.model, clutch.datum, clutch.target_n)
    return constant * candidate.rate_n_per_mm


def build(on: Bench, count: int, rng: np.random.Generator) -> Built | None:
    """Deal the first `count` discs into the sets asked for; None where not all can be."""
    chosen, spare = _chosen(on, count)
    return _dealt(on, _nested(on, chosen), rng) or (
        _dealt(on, np.concatenate([_nested(on, chosen), _nested(on, spare)]), rng)
        if len(spare)
        else None
    )


def _chosen(on: Bench, count: int) -> tuple[Index, Index]:
    """Choose the discs for all stacks, most alike with their mean on target; and the rest."""
    order = np.argsort(on.worth[:count], kind="stable")
    total = np.concatenate([[0.0], np.cumsum(on.worth[order])])
    sums = total[on.needed :] - total[: len(total) - on.needed]
    start = int(np.abs(sums - on.needed * on.room_n).argmin())
    rest = np.concatenate([order[:start], order[start + on.needed :]])
    whole = len(rest) - len(rest) % on.candidate.pattern.discs
    return order[start : start + on.needed], rest[:whole]


def _nested(on: Bench, discs: Index) -> Index:
    """Nest neighbours in cone height, in runs that each hold the packets of one stack."""
    pattern = on.candidate.pattern
    height = on.unpacked.believed.cone_height_mm[discs]
    runs = discs[np.argsort(-height, kind="stable")].reshape(-1, pattern.discs)
    members = np.full((len(runs), pattern.packets, max(pattern.sizes)), -1, dtype=np.intp)
    start = 0
    for at, size in enumerate(pattern.sizes):
        members[:, at, :size] = runs[:, start : start + size]
        start += size
    return members.reshape(-1, members.shape[-1])


def _dealt(on: Bench, members: Index, rng: np.random.Generator) -> Built | None:
    clutch, candidate = on.clutch, on.candidate
    value = _constant_n(candidate, clutch, on.unpacked.believed, members)
    units = Units(
        values=value[:, None, None],
        kind=(members >= 0).sum(1),
        room=np.full((1, 1), on.room_n),
        slack=np.array([INSIDE * clutch.resolution_n / 2]),
        free=np.array([True]),
    )
    counts = {k: n for k, n in enumerate(candidate.pattern.counts, 1) if n}
    dealt = deal_sets(
        units, counts, clutch.shoes, clutch.sets, clutch.spread_n, clutch.load_tolerance_n, rng
    )
    if len(dealt) < clutch.sets:
        return None
    used = members[dealt.ravel()]
    true = _constant_n(candidate, clutch, on.unpacked.true, used).reshape(dealt.shape)
    off = on.room_n - true.sum(-1)  # sets, shoes: load less target
    return Built(off.mean(1), np.ptp(off, axis=1))


def on_target(built: Built | None, clutch: Clutch) -> bool:
    """Tell whether every set asked for was built and truly is on target."""
    return built is not None and bool(np.abs(built.off_n).max() <= clutch.load_tolerance_n)
