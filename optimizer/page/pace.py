"""The times that the page sees: how long one thing took since the one before it.

Only how long is kept, beside the job, never when. What took longer or shorter than work can is
left out where it is read (`estimate/pace.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from time import monotonic

from optimizer.errors import EvenstackError
from optimizer.io.minutes import read_minutes, write_minutes
from optimizer.page.folder import ClutchFolder

#: minutes below which no hand did it, and after which nobody was at it any more
SHORTEST, LONGEST = 0.03, 60.0


@dataclass
class Pace:
    """When things of a clutch were last seen, by what they are; `clock` tells seconds."""

    clock: Callable[[], float] = monotonic
    last: dict[tuple[str, str], float] = field(default_factory=dict)

    def begins(self, clutch: ClutchFolder, what: str) -> None:
        """Note that something begins now."""
        self.last[clutch.name, what] = self.clock()

    def ended(self, clutch: ClutchFolder, what: str, kind: str, pieces: float = 1.0) -> None:
        """Keep what each of some pieces of a kind of work took since `what` began; once."""
        begun = self.last.pop((clutch.name, what), None)
        if begun is None or pieces <= 0:
            return
        minutes = (self.clock() - begun) / 60
        if SHORTEST < minutes < LONGEST:
            with suppress(EvenstackError):  # work goes on where this cannot be written
                write_minutes(clutch.job, read_minutes(clutch.job).more(kind, minutes / pieces))
