"""Labels that stand beside what they name without lying on each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def spread(wanted: Sequence[float], gap: float) -> list[float]:
    """Move positions as little as possible until they are at least `gap` apart.

    The order of the positions is kept, equal ones in the order given; the answer is in the
    order of `wanted`. Least squares: an isotonic regression once the gaps are taken out.
    """
    order = np.argsort(wanted, kind="stable")
    if (np.diff(np.asarray(wanted, dtype=float)[order]) >= gap).all():
        return list(wanted)  # and scipy.optimize, a third of a second, is not read in for it
    from scipy.optimize import isotonic_regression

    gaps = gap * np.arange(len(order))
    placed = np.empty(len(order))
    placed[order] = isotonic_regression(np.asarray(wanted, dtype=float)[order] - gaps).x + gaps
    return [float(place) for place in placed]
