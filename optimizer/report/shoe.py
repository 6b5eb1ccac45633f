"""One shoe of the sheet: its stack row by row, and what caliper and gauge should say."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.estimate.doubts import FAR
from optimizer.estimate.evidence import UNFORESEEN
from optimizer.estimate.probability import NINETEEN_OF_TWENTY
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.bag import Disc
from optimizer.model.plan import PlanSet, PlanStack
from optimizer.report.drawing import Drawing, Scale, draw
from optimizer.report.facts import SetFacts
from optimizer.report.figures import Figures
from optimizer.report.section import StackSection, stack_section
from optimizer.units import MM_PER_IN

#: doubt of a height by caliper; common practice, no source
CALIPER_SD_MM = 0.02
#: steps that a caliper tells for sure, in mm and in inches
STEP_MM, STEP_IN = 0.05, 0.002


@dataclass(frozen=True)
class Place:
    """One row of the list: a disc, whether it is the first of its packet, and its facing.

    `open` rows are to be placed now, others stand already; `flag` is a warning, "" if none.
    """

    disc: Disc
    first: bool
    outer_down: bool
    open: bool = True
    flag: str = ""


@dataclass(frozen=True)
class Check:
    """Pass bands of a stack: its free height in steps of a caliper, 19 of 20 settled readings."""

    height_mm: tuple[float, float]
    likely_n: tuple[float, float]


@dataclass(frozen=True)
class StackPage:
    """One shoe of the sheet.

    `edges` is the edge all its discs have, None where they differ; `pressed_mm` is the height at
    the travel, None where that is counted from a seating load. `flag` is a warning of
    the whole stack or its seat, "" if none.
    """

    plan: PlanStack
    drawing: Drawing
    places: tuple[Place, ...]
    edges: str | None
    check: Check
    travel_mm: float
    pressed_mm: float | None
    flag: str = ""

    @property
    def opened(self) -> bool:
        """Whether any of its discs is to be placed now."""
        return any(place.open for place in self.places)

    @property
    def all_opened(self) -> bool:
        """Whether all of them are."""
        return all(place.open for place in self.places)


@dataclass(frozen=True)
class Highlights:
    """What readings mark on the sheet: rows to place now (None: all), and what is suspect.

    `opened` holds (shoe, disc), `suspects` discs; `shoes` says what is suspect of a whole shoe.
    """

    opened: frozenset[tuple[int, str]] | None = None
    suspects: Collection[str] = ()
    shoes: Mapping[int, str] = field(default_factory=dict)


def sections(one: PlanSet, facts: SetFacts, work: Workspace) -> list[StackSection]:
    """Lay out the stacks of a set in section."""
    height = facts.packets.height_mm + facts.packets.free_mm
    return [
        stack_section(work.task.discs, stack, height[i], one.stacks[i].shims_mm)
        for i, stack in enumerate(facts.stacks)
    ]


def stack_pages(
    one: PlanSet,
    facts: SetFacts,
    laid: Sequence[StackSection],
    scale: Scale,
    work: Workspace,
    highlights: Highlights,
) -> tuple[StackPage, ...]:
    """Write the shoes of a set."""
    job, units = work.job, work.job.units
    bands = checks(one, facts, work)
    pages = []
    for i, stack in enumerate(one.stacks):
        shims = [f"shim {Figures(units).length(s)}" for s in stack.shims_mm]
        places = _places(stack.shoe, facts.stacks[i], work.bag.discs, highlights)
        edges = {place.disc.edge for place in places}
        opened = [place.disc.name for place in places if place.open]
        moved = () if len(opened) == len(places) else opened
        pages.append(
            StackPage(
                stack,
                draw(laid[i], work.belief.names, scale, shims, moved),
                places,
                edges.pop() if len(edges) == 1 else None,
                bands[i],
                job.shoes[i].travel_mm,
                None if job.pressed_mm is None else job.pressed_mm[i],
                highlights.shoes.get(i + 1, ""),
            )
        )
    return tuple(pages)


def _places(
    shoe: int, stack: Index, discs: Sequence[Disc], highlights: Highlights
) -> tuple[Place, ...]:
    return tuple(
        Place(
            discs[disc],
            rank == 0,
            number % 2 == 0,
            highlights.opened is None or (shoe, discs[disc].name) in highlights.opened,
            "suspect" if discs[disc].name in highlights.suspects else "",
        )
        for number, packet in enumerate(stack)
        for rank, disc in enumerate(packet[packet >= 0])
    )


def checks(one: PlanSet, facts: SetFacts, work: Workspace) -> list[Check]:
    """Return what caliper and gauge should say: 19 of 20 stacks as measured."""
    cover = work.belief.covariance
    found = []
    for i, (stack, built) in enumerate(zip(one.stacks, facts.stacks, strict=True)):
        # the cone of a packet's disc adds to its height once, the thickness of every disc
        variance = CALIPER_SD_MM**2 + sum(
            _height_variance(cover, packet[packet >= 0]) for packet in built[built[:, 0] >= 0]
        )
        reach = NINETEEN_OF_TWENTY * math.sqrt(variance)
        wide = NINETEEN_OF_TWENTY * float(facts.reading_sd_n[i])
        middle = float(facts.expected_n[i])
        band = height_band(stack.free_height_mm, reach, work.job.units)
        found.append(Check(band, (middle - wide, middle + wide)))
    return found


def believable_n(facts: SetFacts) -> list[tuple[float, float]]:
    """Return the loads between which a first reading of each stack is no slip."""
    wide = FAR * np.hypot(facts.reading_sd_n, UNFORESEEN * facts.expected_n)
    return list(zip(facts.expected_n - wide, facts.expected_n + wide, strict=True))


def _height_variance(cover: Array, packet: Array) -> float:
    mean = np.full(len(packet), 1 / len(packet))
    across = 2 * float((cover[packet, 0, 1] * mean).sum())
    return float(cover[packet, 0, 0].sum() + (cover[packet, 1, 1] * mean**2).sum()) + across


def height_band(height_mm: float, reach_mm: float, units: str) -> tuple[float, float]:
    """Widen a band of heights in mm to whole steps that a caliper tells."""
    step = STEP_IN * MM_PER_IN if units == "in" else STEP_MM
    low = math.floor((height_mm - reach_mm) / step + 1e-9) * step
    return low, math.ceil((height_mm + reach_mm) / step - 1e-9) * step
