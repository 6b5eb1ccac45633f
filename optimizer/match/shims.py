"""Shims: which of those on hand could go under which shoe."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from optimizer.model.stack import Shims

MOST_SHIMS = 3
STEP_MM = 1e-4
#: thicknesses tried at most, evenly over what the shims reach, and stacks of shims looked at
#: for each shoe
MOST_TOTALS, NEAREST = 150, 300
#: of two equally near the one of fewer shims
FEWER = 0.1


def shim_choices(on_hand_mm: tuple[float, ...], extra_mm: tuple[float, ...]) -> list[Shims]:
    """List ways to shim all shoes alike from the shims on hand, fewest shims first.

    Parameters
    ----------
    on_hand_mm : every entry is one shim
    extra_mm : how much more than the others each shoe wants, such as a deeper seat

    Returns
    -------
    For every reachable thickness, or so many of them, one choice: the shims of each shoe whose
    sums come nearest to that thickness plus the shoe's extra. No shim at all is the first.
    """
    places = range(len(on_hand_mm))
    subsets = [s for size in range(MOST_SHIMS + 1) for s in combinations(places, size)]
    steps = np.array([round(sum(on_hand_mm[k] for k in s) / STEP_MM) for s in subsets])
    count = np.array([len(s) for s in subsets])
    totals = np.unique(steps)
    if len(totals) > MOST_TOTALS:
        totals = totals[np.linspace(0, len(totals) - 1, MOST_TOTALS).astype(np.intp)]
    found: dict[Shims, None] = {}
    for total in totals:
        taken: set[int] = set()
        choice = []
        for extra in extra_mm:
            wanted = total + round(extra / STEP_MM)
            off = np.abs(steps - wanted) + FEWER * count
            order = np.argpartition(off, min(NEAREST, len(off) - 1))[: NEAREST + 1]
            order = order[np.lexsort((order, off[order]))]
            best = next((subsets[k] for k in order if taken.isdisjoint(subsets[k])), ())
            taken.update(best)
            choice.append(tuple(sorted((on_hand_mm[k] for k in best), reverse=True)))
        found[tuple(choice)] = None
    return sorted(found, key=lambda choice: sum(len(s) for s in choice))
