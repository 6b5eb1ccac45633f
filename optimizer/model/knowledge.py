"""What a bench session leaves: its readings, and a speed seen on the engine."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.model.readings import Reading
from optimizer.model.stack import Shims, Stack


@dataclass(frozen=True)
class Record:
    """One bench session: the file of its readings, the set it began with, what was read.

    `stacks` and `shims_mm` are of the plan, shoe by shoe (S); `groups` tells that discs gauged
    without a shoe stay together.
    """

    source: str
    stacks: tuple[Stack, ...]
    shims_mm: Shims
    groups: bool
    rows: tuple[Reading, ...]


@dataclass(frozen=True)
class Speed:
    """A tachometer reading: engagement speed, and the loads in N (S) that stood then.

    `hold_rpm` is the engine's speed at full throttle while the clutch slipped; either of the two
    speeds may be None. `sd_rpm` is how well both were read.
    """

    rpm: float | None
    loads_n: tuple[float, ...]
    sd_rpm: float = 0.0
    hold_rpm: float | None = None
