"""Which readings that a person insists on are borne out by the others.

A reading far outside what is expected is a slip of the hand far more often than a disc that is
beyond all measurement. One that is insisted on is on trial: it counts as soon as it and the
others together are likelier than a slip beside the others (three stacks a third too high are
a gauge factor, one of three is not). A reading that is not borne out moves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Mask

#: share of a load that is allowed for what nobody foresaw (seats, friction, a law that is
#: some per cent off), as one standard deviation
UNFORESEEN = 0.02
#: share of insisted readings that are slips all the same; slips fall anywhere up to so many
#: times the reading. Both are choices, not measurements
SLIP, ANYWHERE = 0.05, 10.0


@dataclass(frozen=True)
@frozen_arrays
class Trial:
    """Readings (R) as seen from before any: `surprise_n` and `seen_n` in N, and `covariance`
    (R, R) of the surprises in N^2 if all are honest, what nobody foresaw included."""

    surprise_n: Array
    seen_n: Array
    covariance: Array

    def borne_out(self, heard: Mask, tried: Mask) -> Mask:
        """Return `heard` (R) with those of `tried` (R) added that are borne out.

        Notes
        -----
        The likeliest subset is looked for by changing one reading at a time, from all and
        from none of the tried ones.
        """
        if not tried.any():
            return heard
        ends = [self._climbed(start, tried) for start in (heard, heard | tried)]
        return max(ends, key=lambda which: self._likelihood(which, tried))

    def _climbed(self, start: Mask, tried: Mask) -> Mask:
        now, value = start, self._likelihood(start, tried)
        better = True
        while better:
            better = False
            for row in np.flatnonzero(tried):
                other = now.copy()
                other[row] = not now[row]
                if (then := self._likelihood(other, tried)) > value:
                    now, value, better = other, then, True
        return now

    def _likelihood(self, which: Mask, tried: Mask) -> float:
        rows = np.flatnonzero(which)
        slips = np.log(SLIP / (ANYWHERE * self.seen_n[tried & ~which])).sum()
        part, surprise = self.covariance[np.ix_(rows, rows)], self.surprise_n[rows]
        square = surprise @ np.linalg.solve(part, surprise)
        constant = np.linalg.slogdet(part)[1] + len(rows) * np.log(2 * np.pi)
        return float(slips - 0.5 * (square + constant))
