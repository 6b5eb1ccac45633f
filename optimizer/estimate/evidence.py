"""Settled readings as linear observations of what is believed, and which of them count.

A reading far outside what is expected is a slip of the hand far more often than a disc that is
beyond all measurement. One that is insisted on is on trial: it counts as soon as it and the
others together are likelier than a slip beside the others (three stacks a third too high are
a gauge factor, one of three is not). A reading that is not borne out moves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.builds import BuiltStack
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Mask
from optimizer.model.readings import Reading

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


#: sd in loads seen of a reading that does not count: it only tells what stands
DEAF = 1e3
#: what makes two readings of one load: shoe, builds, and a travel that is not the shoe's own
LoadKey = tuple[int | None, tuple[int, ...], float | None]


def load_key(reading: Reading, built: BuiltStack) -> LoadKey:
    """Return what a reading of a stack as it was built is of."""
    return reading.shoe, built.builds, reading.travel_mm


@dataclass(frozen=True)
@frozen_arrays
class Evidence:
    """Settled readings (R) as linear observations of the state (D).

    `surprise_n` (R) is reading minus what was expected before any reading; `slope` (R, D);
    `prior` (D, D); `noise_n2` (R) the variance of the gauge and the travel stop, and `shaken_n2`
    (R) that of them which differs from reading to reading. Readings that are not `heard` (R) only
    tell what stands: their noise is beyond all measure.
    """

    readings: tuple[Reading, ...]
    built: tuple[BuiltStack, ...]
    surprise_n: Array
    slope: Array
    prior: Array
    noise_n2: Array
    shaken_n2: Array
    seen_n: Array
    heard: Mask

    @property
    def count(self) -> int:
        """How many readings count."""
        return int(self.heard.sum())

    @property
    def not_borne_out(self) -> tuple[Reading, ...]:
        """Readings insisted on that fit nothing else and move nothing."""
        pairs = zip(self.readings, self.heard, strict=True)
        return tuple(r for r, told in pairs if r.trust == "insisted" and not told)

    @property
    def expected(self) -> Array:
        """Covariance (R, R) of the surprises if all that is assumed holds."""
        return self.slope @ self.prior @ self.slope.T + np.diag(self.noise_n2)

    @property
    def repeats(self) -> tuple[float, int, float]:
        """What readings of one build under one travel tell of the gauge.

        Sum of squares in N^2 about their means, its degrees of freedom, and the mean of the
        variances in N^2 that were assumed to differ from reading to reading.
        """
        alike: dict[LoadKey, list[int]] = {}
        for row, key in enumerate(map(load_key, self.readings, self.built)):
            if self.heard[row]:
                alike.setdefault(key, []).append(row)
        again = [rows for rows in alike.values() if len(rows) > 1]
        square = sum(len(rows) * float(self.seen_n[rows].var()) for rows in again)
        shaken = [self.shaken_n2[rows].mean() for rows in again]
        degrees = sum(len(rows) - 1 for rows in again)
        return square, degrees, float(np.mean(shaken)) if again else 0.0

    @property
    def trial(self) -> Trial:
        """What decides whether readings that are insisted on count.

        What nobody foresaw is the same in every reading of one build, so that readings
        again bear each other out.
        """
        alike = np.array([[a == b for b in self.built] for a in self.built])
        load = self.seen_n - self.surprise_n
        off = alike * np.outer(load, load) * UNFORESEEN**2
        return Trial(self.surprise_n, self.seen_n, self.expected + off)

    def only(self, heard: Mask) -> Evidence:
        """Return the evidence of some of the readings (R, bool)."""
        deaf = np.where(heard, self.noise_n2, (DEAF * self.seen_n) ** 2)
        return replace(self, noise_n2=deaf, heard=heard)
