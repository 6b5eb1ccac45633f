"""The order in two steps: a sample, one stack on the gauge, then the rest of the same lot.

A lot's mean and modulus are the same for all its discs, so no quantity averages them out;
a sample tells both. After it the buyer knows how many discs a lot like this one wants, or
that it will never do and another lot must be sampled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.mechanics.packet import Index
from optimizer.orders.quantity import Proportion, typical_times
from optimizer.orders.simulate import Outcome
from optimizer.orders.study import Study

#: a lot that wants more than this many times the discs used is given up after the sample
GIVE_UP = 2.0
#: margins tried, in standard deviations of a disc
MARGINS_SD = np.arange(0.0, 1.55, 0.05)


@dataclass(frozen=True)
class Steps:
    """The two-step order of one size and pattern; discs include those of the sample.

    `suits` is the share of lots that are worth going on with, `confidence` the promise for such
    a lot. One buys what a typical lot would want that lies `margin_sd` standard deviations of a
    disc further off than the sample does. `cost` is the mean of all of it, with a sample of every
    lot that did not suit before; None where the catalog has no prices.
    """

    sample_discs: int
    margin_sd: float
    suits: Proportion
    confidence: Proportion
    mean_discs: float
    most_discs: int
    cost: float | None = None

    @property
    def samples(self) -> float:
        """Samples that are sent for on average until one suits."""
        return 1 / self.suits.share if self.suits.share else np.inf


def steps(
    study: Study,
    outcome: Outcome,
    asked: float,
    matched: float,
    price: Callable[[int], float | None],
) -> Steps:
    """Find the least margin with which a two-step order keeps the asked confidence.

    Where none does, the margin is the one that does most.

    Parameters
    ----------
    outcome : what the draws say of the study
    matched : chance that all sets end truly within
    price : cost of a delivery of so many discs
    """
    packs, sample = study.packs, study.sample_discs
    best: tuple[float, Proportion, Proportion, Index] | None = None
    least = -(-sample // packs.pack)
    for margin in MARGINS_SD:
        times = typical_times(outcome.sample_short + margin)
        kept = times <= GIVE_UP
        wanted = np.ceil((study.needed * times[kept] - packs.held) / packs.pack).astype(np.intp)
        total = np.clip(wanted, max(least, packs.least), packs.most)
        if not kept.any():
            break
        good = int((outcome.packs[kept] <= total).sum())
        sure = Proportion.of(good, len(total)).times(matched)
        if best is None or sure.share > best[1].share:
            best = (
                float(margin),
                sure,
                Proportion.of(int(kept.sum()), len(kept)),
                total * packs.pack,
            )
        if best[1].share >= asked:
            break
    of_sample = price(sample)
    if best is None:
        none = Proportion.of(0, len(outcome.packs))
        return Steps(sample, 0.0, none, none, float(sample), sample)
    margin, sure, suits, total = best
    cost = None
    if of_sample is not None:
        sizes, often = np.unique(total, return_counts=True)
        rest = [price(int(discs) - sample) if discs > sample else 0.0 for discs in sizes]
        mean = sum(n * (r or 0.0) for n, r in zip(often, rest, strict=True)) / often.sum()
        cost = float(of_sample / suits.share + mean)
    return Steps(sample, margin, suits, sure, float(total.mean()), int(total.max()), cost)
