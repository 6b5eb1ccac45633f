"""Readings of the bench gauge as values, and what a session leaves of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optimizer.model.stack import Shims, Stack

Kind = Literal["first", "settled"]
#: what is made of a reading: it counts; it counts though far off, as far as others bear it
#: out; it only tells what stands
Trust = Literal["usual", "insisted", "doubted"]


@dataclass(frozen=True)
class Reading:
    """One load seen on the gauge.

    `shoe` counts from 1 and is None for discs pressed by themselves; `travel_mm` is None
    where the job's travel holds; `rebuilt` says that the stack was taken apart before,
    although its discs are the same; `shims_mm` is the total under the stack, None for that of
    the plan; `trust` what is made of it.
    """

    round: int
    shoe: int | None
    packs: Stack
    kind: Kind
    load_n: float
    travel_mm: float | None = None
    rebuilt: bool = False
    line: int = 0
    shims_mm: float | None = None
    trust: Trust = "usual"


@dataclass(frozen=True)
class Readings:
    """All readings of a file, rounds in order, and what to know about them."""

    rows: tuple[Reading, ...]
    warnings: tuple[str, ...]


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
