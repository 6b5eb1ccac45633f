"""The order in two steps: a sample, one stack on the gauge, then the rest of the same lot.

A lot's mean and modulus are the same for all its discs, so no quantity averages them out;
a sample tells both. After it the buyer knows how many discs a lot like this one wants, or
that it will never do and another lot must be sampled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.orders.quantity import Packs, Share, typical_times
from optimizer.orders.simulate import Outcome

#: a lot that wants more than this many times the discs used is given up after the sample
GIVE_UP = 2.0
#: margins tried, in standard deviations of a disc
MARGINS_SD = np.arange(0.0, 1.55, 0.05)


@dataclass(frozen=True)
class Steps:
    """The two-step order of one size and pattern; packs include the sample.

    `suits` is the share of lots that are worth going on with, `confidence` that of all sets
    being built from such a lot. One buys what a typical lot would want that lies
    `margin_sd` standard deviations of a disc further off than the sample does.
    """

    sample_packs: int
    margin_sd: float
    suits: Share
    confidence: Share
    mean_packs: float
    most_packs: int


def steps(outcome: Outcome, packs: Packs, needed: int, sample: int, asked: float) -> Steps:
    """Find the least margin with which a two-step order keeps the asked confidence.

    Where none does, the margin is the one that does most.
    """
    best: Steps | None = None
    for margin in MARGINS_SD:
        times = typical_times(outcome.sample_short + margin)
        kept = times <= GIVE_UP
        wanted = np.ceil((needed * times[kept] - packs.held) / packs.pack).astype(np.intp)
        total = np.clip(wanted, max(sample, packs.least), packs.most)
        good = int((outcome.packs[kept] <= total).sum())
        if not kept.any():
            break
        found = Steps(
            sample,
            float(margin),
            Share.of(int(kept.sum()), len(kept)),
            Share.of(good, len(total)),
            float(total.mean()),
            int(total.max()),
        )
        if best is None or found.confidence.share > best.confidence.share:
            best = found
        if best.confidence.share >= asked:
            break
    none = Share.of(0, len(outcome.packs))
    return best or Steps(sample, 0.0, none, none, float(sample), sample)
