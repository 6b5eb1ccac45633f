"""`plan_order`: which springs to buy, and how many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.control import Report, quiet
from optimizer.face.result import Result
from optimizer.io.documents import to_json
from optimizer.orders.document import Order
from optimizer.orders.request import Request, ask, plan_request
from optimizer.report.order_card import order_card
from optimizer.report.order_page import order_page

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class OrderResult(Result):
    """A spring order: what to buy, how sure, and what else would do."""

    order: Order

    def summary(self) -> str:
        """Say what to buy and what was assumed."""
        return order_card(self.order)

    def to_frame(self) -> pd.DataFrame:
        """Return the curves: the share of deliveries that do against packs, by clutch."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "clutch": clutch.name,
                    "size": option.size,
                    "pattern": option.pattern,
                    "packs": point.packs,
                    "discs": point.discs,
                    "cost": point.cost,
                    "share": point.confidence.share,
                    "low": point.confidence.low,
                    "high": point.confidence.high,
                }
                for clutch in self.order.clutches
                for option in clutch.options
                for point in option.curve
            ]
        )

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return order.json, order.txt and order.html."""
        return {
            folder / "order.json": to_json(self.order),
            folder / "order.txt": self.summary(),
            folder / "order.html": order_page(self.order, date.today()),
        }


def plan_order(
    jobs: str | Path | Sequence[str | Path],
    sets: int | Sequence[int],
    catalog: str | Path | None = None,
    confidence: float | None = None,
    draws: int = 1000,
    seed: int = 0,
    workers: int | None = None,
    report: Report = quiet,
) -> OrderResult:
    """Plan the cheapest order with which every set can be built at the asked confidence.

    Parameters
    ----------
    jobs : one job file or several; the discs of the first one's bag count as on hand
    sets : how many of each
    catalog : CSV or XLSX of sizes that are sold; the sizes of EN 16983 where None
    confidence : share of deliveries in which all sets can be built, 0.95 where None
    draws : simulated deliveries

    Raises
    ------
    InputError
        with everything that is wrong in the first file that has a problem.
    CannotBuildError
        when no size and pattern reaches a job's target within its limits.
    """
    many = (jobs,) if isinstance(jobs, str | Path) else tuple(jobs)
    each = (sets,) if isinstance(sets, int) else tuple(sets)
    request = Request(
        tuple(Path(job) for job in many),
        each,
        None if catalog is None else Path(catalog),
        confidence=confidence,
    )
    return OrderResult(plan_request(ask(request, draws, seed, workers), report))
