"""The fewest packs that do, draw by draw; the confidence in every quantity follows at once.

In one draw the packs come in one order, so what a smaller order can build a larger one can
build too. One number a draw therefore holds the whole curve of confidence against quantity,
and all quantities are judged by the same draws.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv, ndtri

from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.orders.build import BuiltSets, DiscStream, build
from optimizer.orders.study import MOST_TIMES
from optimizer.orders.unpack import DEALING, SCATTERING, DeliveryDraw

#: share of deliveries that is not worth buying more for, where no quantity does
NO_MORE = 0.01
#: stands for "no number of packs up to the limit"
NEVER = 10**6


def least_that(does: Callable[[int], bool], low: int, high: int) -> int:
    """Return the least number from `low` to `high` that does, or NEVER; `does` is monotone."""
    if not does(high):  # asked first: a small order may do by luck where a large one does not
        return NEVER
    if does(low):  # as in most draws
        return low
    return low + 1 + bisect_left(range(low + 1, high), True, key=does)


def reach_n(on: DiscStream, draw: DeliveryDraw) -> tuple[float, float]:
    """How far in N the true means of the lowest and highest set lie from that of all."""
    scatter = draw.rng(SCATTERING).standard_normal(on.study.clutch.sets) * on.scatter_n
    return float(scatter.min()), float(scatter.max())


def fewest(on: DiscStream, draw: DeliveryDraw) -> tuple[int, BuiltSets | None]:
    """Find the fewest packs of a draw from which every set is built and truly on target.

    The sets are dealt as measured. How their true means scatter about what was believed is
    drawn once for all quantities: were it taken from each dealing, one of many quantities
    would do by luck, and large orders seem surer than they are.
    """
    packs, reach = on.study.packs, reach_n(on, draw)
    low = least_that(lambda k: on.may_do(packs.discs(k), reach), packs.least, packs.most)
    if low == NEVER:
        return NEVER, None
    deals: dict[int, BuiltSets | None] = {}

    def dealt(at: int) -> bool:
        if at not in deals:
            deals[at] = build(on, packs.discs(at), draw.rng(DEALING, at))
        return deals[at] is not None

    at = low if dealt(low) else least_that(dealt, low, packs.most)
    return at, deals.get(at)


@dataclass(frozen=True)
class Proportion:
    """A share of draws, and between what it lies at 95 % (Clopper and Pearson, 1934)."""

    share: float
    low: float
    high: float

    @classmethod
    def of(cls, good: int, draws: int) -> Proportion:
        """Return the share and its exact interval."""
        low = betaincinv(good, draws - good + 1, 0.025) if good else 0.0
        high = betaincinv(good + 1, draws - good, 0.975) if good < draws else 1.0
        return cls(good / draws, float(low), float(high))

    def times(self, chance: float) -> Proportion:
        """Return the share of those that also do by a chance of its own."""
        return Proportion(self.share * chance, self.low * chance, self.high * chance)

    def both(self, other: Proportion) -> Proportion:
        """Return the share of those that also do by a chance that is itself in doubt."""
        return Proportion(self.share * other.share, self.low * other.low, self.high * other.high)

    def all_of(self, count: int) -> Proportion:
        """Return the chance that `count` that each have this one all do."""
        return Proportion(self.share**count, self.low**count, self.high**count)


def confidence(fewest_packs: Index, at: int) -> Proportion:
    """Proportion of draws (B) that `at` packs are enough for."""
    return Proportion.of(int((fewest_packs <= at).sum()), len(fewest_packs))


def smallest(fewest_packs: Index, asked: float) -> int:
    """Fewest packs that are enough in the asked share of draws, or NEVER."""
    rank = int(np.ceil(asked * len(fewest_packs) - 1e-9)) - 1
    return int(np.sort(fewest_packs)[max(rank, 0)])


def plateau(fewest_packs: Index, most: int) -> int:
    """Fewest packs that do as often as any number to `most`, as far as the draws tell."""
    best = confidence(fewest_packs, most).share
    told = max(NO_MORE, float(np.sqrt(best * (1 - best) / len(fewest_packs))))
    return min(smallest(fewest_packs, best - told) if best > told else most, most)


def typical_times(shift_sd: Array) -> Array:
    """Discs bought per disc used so that the best of a normal lot are `shift_sd` off its mean.

    Notes
    -----
    The mean of the upper share q of a normal is phi(z) / q beyond its mean.
    """
    share = np.linspace(1.0, 1 / (4 * MOST_TIMES), 400)
    z = ndtri(1 - share)
    gain = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi) / share
    return np.interp(np.maximum(shift_sd, 0.0), gain, 1 / share)
