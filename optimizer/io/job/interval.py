"""Intervals as one writes them on paper: "(0, 25]" is above 0, up to and with 25."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Interval:
    """A range of numbers whose ends may be open (excluded) or closed."""

    low: float
    high: float
    low_open: bool
    high_open: bool

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read "(0, 25]", "[0, inf)" and the like."""
        low, high = text[1:-1].split(",")
        return cls(float(low), float(high), text[0] == "(", text[-1] == ")")

    def __contains__(self, value: float) -> bool:
        """Tell whether `value` lies within."""
        above = value > self.low if self.low_open else value >= self.low
        below = value < self.high if self.high_open else value <= self.high
        return above and below

    def says(self, factor: float = 1.0, unit: str = "") -> str:
        """Return the range as words for a message, its ends divided by `factor`."""
        parts = []
        if not math.isinf(self.low):
            parts.append(f"{'>' if self.low_open else '>='} {self.low / factor:.6g}")
        if not math.isinf(self.high):
            parts.append(f"{'<' if self.high_open else '<='} {self.high / factor:.6g}")
        return f"{' and '.join(parts)} {unit}".rstrip()


ANY = Interval.parse("(-inf, inf)")
