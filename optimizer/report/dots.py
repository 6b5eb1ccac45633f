"""A chance as a picture: a hundred dots, as many of them full as it has per cent."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text

#: dots a row, and units from one to the next
ACROSS, STEP = 10, 6


@dataclass(frozen=True)
class Dots:
    """Paths of the full and of the empty dots in a square of 60 units, and the chance in words."""

    full: str
    empty: str
    count: int
    said: str


def dots(chance: float) -> Dots:
    """Draw a chance; never all dots or none, as nothing is certain."""
    count = min(max(round(100 * chance), 1), 99)
    # filled from the bottom, as a glass is
    places = [
        f"M{STEP * (k % ACROSS) + STEP // 2} {STEP * (ACROSS - 1 - k // ACROSS) + STEP // 2}h0"
        for k in range(ACROSS * ACROSS)
    ]
    return Dots("".join(places[:count]), "".join(places[count:]), count, text.percent(chance))
