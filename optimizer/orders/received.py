"""After delivery: what the real bag can build, against what was planned."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.assignment.limits import Limits, Report, quiet
from optimizer.assignment.lots import match_lots
from optimizer.assignment.problem import Task
from optimizer.errors import CannotBuildError
from optimizer.orders.catalog import Size
from optimizer.orders.document import Order
from optimizer.orders.onhand import OnHand


@dataclass(frozen=True)
class LotMean:
    """How the received discs of a size lie about nominal, in mm."""

    size: str
    discs: int
    thickness_off_mm: float
    cone_height_off_mm: float


@dataclass(frozen=True)
class Received:
    """What a bag can build now; `reorder` is a plan for the rest, None where nothing lacks.

    `buildable_bound` is a proven greatest number of sets, at most the number asked for;
    `reasons` say why not one set can be built, where so.
    """

    discs: int
    wanted_sets: int
    buildable_sets: int
    buildable_bound: int
    pattern: str
    lots: tuple[LotMean, ...]
    reasons: tuple[str, ...]
    reorder: Order | None

    @property
    def short_sets(self) -> int:
        """Sets that cannot be built yet."""
        return self.wanted_sets - self.buildable_sets


def count_sets(
    task: Task, sets: int, spread_n: float, limits: Limits, seed: int, report: Report = quiet
) -> tuple[int, int, str, tuple[str, ...]]:
    """Deal a received bag into at most `sets` sets.

    Returns the sets found, the bound on them, their pattern, and the reasons where there
    is none.
    """
    try:
        lots = match_lots(task, sets, spread_n, limits, seed, report)
    except CannotBuildError as refused:
        return 0, 0, "", tuple(str(problem) for problem in refused.problems)
    return len(lots.sets), lots.bound, str(lots.sets[0].answer.patterns[0]), ()


def lot_means(sizes: tuple[Size, ...], held: dict[str, OnHand]) -> tuple[LotMean, ...]:
    """Compare the discs of each size with its nominal measures."""
    return tuple(
        LotMean(
            size.name,
            len(held[size.name]),
            float(held[size.name].discs.thickness_mm.mean() - size.thickness_mm),
            float(held[size.name].discs.cone_height_mm.mean() - size.cone_height_mm),
        )
        for size in sizes
        if size.name in held and len(held[size.name])
    )
