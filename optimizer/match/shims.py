"""Shims: which of those on hand could go under which shoe."""

from __future__ import annotations

from itertools import combinations

MOST_SHIMS = 3
STEP_MM = 1e-4


def shim_choices(
    on_hand_mm: tuple[float, ...], extra_mm: tuple[float, ...]
) -> list[tuple[tuple[float, ...], ...]]:
    """List ways to shim all shoes alike from the shims on hand, fewest shims first.

    Parameters
    ----------
    on_hand_mm : every entry is one shim
    extra_mm : how much more than the others each shoe wants, such as a deeper seat

    Returns
    -------
    For every reachable thickness one choice: the shims of each shoe whose sums come nearest
    to that thickness plus the shoe's extra. No shim at all is the first choice.
    """
    places = range(len(on_hand_mm))
    subsets = [s for size in range(MOST_SHIMS + 1) for s in combinations(places, size)]
    totals = sorted({round(sum(on_hand_mm[k] for k in s) / STEP_MM) for s in subsets})
    found: dict[tuple[tuple[float, ...], ...], None] = {}
    for total in totals:
        taken: set[int] = set()
        choice = []
        for extra in extra_mm:
            wanted = total * STEP_MM + extra
            best = min(
                (s for s in subsets if taken.isdisjoint(s)),
                key=lambda s: (round(abs(sum(on_hand_mm[k] for k in s) - wanted), 6), len(s)),
            )
            taken.update(best)
            choice.append(tuple(sorted((on_hand_mm[k] for k in best), reverse=True)))
        found[tuple(choice)] = None
    return sorted(found, key=lambda choice: sum(len(s) for s in choice))
