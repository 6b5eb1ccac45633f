"""What a builder can change so that an order does: at the bench, in the job, or what is allowed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.estimate.breakdown import DIAL_MM, MICROMETER
from optimizer.orders.clutch import BenchWork, OrderedClutch
from optimizer.orders.manufacture import Manufacture

#: discs of a group, flats in mm that are dressed, and sd in mm of a micrometer
GROUP, FLAT_MM, MICROMETER_MM = 3, 0.15, MICROMETER.thickness_sd_mm
#: step in mm of shims that are finer, and the most that is laid under a stack
SHIM_MM, SHIMS = 0.05, 5


@dataclass(frozen=True)
class ChangedClutch:
    """A clutch and its discs after some changes of a kind each, named by what the builder does."""

    clutch: OrderedClutch
    making: Manufacture
    kinds: frozenset[str] = frozenset()
    changes: tuple[str, ...] = ()

    def by(
        self, kind: str, words: str, *, making: Manufacture | None = None, **clutch: object
    ) -> ChangedClutch:
        """Return it with one change more."""
        return ChangedClutch(
            replace(self.clutch, **clutch),  # type: ignore[arg-type]
            making or self.making,
            self.kinds | {kind},
            (*self.changes, words),
        )


def working(at: ChangedClutch) -> Iterator[ChangedClutch]:
    """Yield what the builder can do so that sets end truly within more often, beside rounds."""
    clutch, making = at.clutch, at.making
    if clutch.gauge.reads != "in the clutch" and clutch.place_sd_mm:
        read = replace(clutch.gauge, reads="in the clutch")
        words = 'gauge every stack under its own shoe ([gauge] reads = "in the clutch")'
        yield at.by("reads", words, gauge=read, work=replace(clutch.work, groups=0))
    if clutch.place_sd_mm > DIAL_MM:
        known = text.length(DIAL_MM, clutch.units)
        words = f"measure each shoe's travel with a dial gauge (travel_sd, seat_sd {known})"
        yield at.by("place", words, place_sd_mm=DIAL_MM)
    if not making.flat_mm:
        flat = text.length(FLAT_MM, clutch.units)
        yield at.by(
            "edges",
            f"dress the edges to flats of {flat} (--flat)",
            making=replace(making, flat_mm=FLAT_MM),
            scatter=clutch.dressed_scatter,
        )
    tool = clutch.instrument
    if max(tool.thickness_sd_mm, tool.height_sd_mm) > MICROMETER_MM:
        finer = replace(
            tool,
            thickness_sd_mm=min(MICROMETER_MM, tool.thickness_sd_mm),
            height_sd_mm=min(MICROMETER_MM, tool.height_sd_mm),
            thickness_resolution_mm=0.0,
            height_resolution_mm=0.0,
        )
        words = f"measure to {text.length(MICROMETER_MM, clutch.units)} (a micrometer)"
        yield at.by("tool", words, instrument=finer)
    if not (clutch.work.groups or at.kinds) and not clutch.datum.has_room:
        words = f"gauge groups of {GROUP} discs that then stay together (--groups {GROUP})"
        yield at.by("groups", words, work=replace(clutch.work, groups=GROUP))


def rounds(at: ChangedClutch, count: int) -> ChangedClutch:
    """Give every set so many rounds of gauge and swap."""
    words = f"up to {count} rounds of gauge and swap (--rounds {count})"
    return at.by("rounds", words, work=BenchWork(count))


def wider_spread(at: ChangedClutch, times: float) -> ChangedClutch:
    """Allow a spread so many times as wide."""
    width = times * at.clutch.spread_n
    words = f"a spread tolerance of {text.load(width, at.clutch.units)}"
    return at.by("spread", words, spread_n=width)


def wider_load(at: ChangedClutch, times: float) -> ChangedClutch:
    """Allow loads so many times as far from the target."""
    tolerance = times * at.clutch.load_tolerance_n
    words = f"a load tolerance of {text.load(tolerance, at.clutch.units)}"
    return at.by("load", words, load_tolerance_n=tolerance)


def loading(at: ChangedClutch) -> Iterator[ChangedClutch]:
    """Yield what brings loads on target more often, beside a wider tolerance."""
    clutch = at.clutch
    if clutch.datum.has_room:
        step = SHIM_MM if len(clutch.shims_mm) < 2 else float(np.diff(clutch.shims_mm).min()) / 2
        most = max(SHIMS * step, clutch.shims_mm[-1])
        fine = tuple(round(float(s), 4) for s in np.arange(0, most + step / 2, step))
        words = f"shims in steps of {text.length(step, clutch.units)} under every stack"
        yield at.by("shims", words, shims_mm=fine)
    rules = clutch.rules
    if rules.free_height_mm is not None:
        free = replace(rules, free_height_mm=None)
        yield at.by("height", "allow stacks of any free height (no free_height)", rules=free)
    if set(rules.packet_sizes) != {1, 2, 3} or rules.discs is not None:
        free = replace(rules, packet_sizes=(1, 2, 3), discs=None)
        yield at.by(
            "patterns", "allow any pattern (packet_sizes = [1, 2, 3], no discs)", rules=free
        )


def loose(at: ChangedClutch) -> ChangedClutch:
    """Let stacks of a room hang loose at rest."""
    words = "let stacks hang loose at rest, where they rattle and wear"
    return at.by("loose", words, pressing=False)
