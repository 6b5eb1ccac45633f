"""`plan_order`, `delivered`: which springs to buy, and what those that came build."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.control import Report, quiet
from optimizer.face.result import Result
from optimizer.io.documents import to_json
from optimizer.orders.cluster import on_cluster
from optimizer.orders.clutch import BenchWork
from optimizer.orders.document import Order
from optimizer.orders.received import Received
from optimizer.orders.request import MOST_SIMULATED, Request, after_delivery, ask, plan_request
from optimizer.report.order_card import order_card
from optimizer.report.order_page import order_page
from optimizer.report.order_why import order_why, received_why
from optimizer.report.received_card import received_card
from optimizer.report.received_page import received_page

if TYPE_CHECKING:
    import pandas as pd

#: what `save` writes
FILES = ("order.json", "order.txt", "order.html")


@dataclass(frozen=True)
class OrderResult(Result):
    """A spring order: what to buy, how sure, and what else would do."""

    order: Order
    saved_as = "order"

    def summary(self) -> str:
        """Say what to buy and what was assumed."""
        return order_card(self.order)

    def why(self) -> str:
        """Say of what each option's chance is made."""
        return order_why(self.order)

    def to_frame(self) -> pd.DataFrame:
        """Return the curves: the share of deliveries that do against packs, by clutch."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "clutch": clutch.name,
                    "size": option.size,
                    "pattern": option.pattern,
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

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return to_json(self.order)

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return order.json, order.txt and order.html."""
        page = order_page(self.order, date.today())
        return {**super().files(folder), folder / FILES[-1]: page}


@dataclass(frozen=True)
class DeliveryResult(Result):
    """What a bag that was delivered builds, what lacks, and what to order again."""

    received: Received
    units: str
    saved_as = "order"

    def summary(self) -> str:
        """Say what it builds, how it differs from the plan, and what to order again."""
        return received_card(self.received, self.units)

    def why(self) -> str:
        """Say how the lots lie, and what a new order rests on."""
        return received_why(self.received, self.units)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every size received: how its lot lies about nominal."""
        import pandas as pd

        return pd.DataFrame([asdict(lot) for lot in self.received.lots])

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return to_json(self.received)

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return order.json, order.txt and order.html."""
        page = received_page(self.received, self.units, date.today())
        return {**super().files(folder), folder / FILES[-1]: page}


def answer(
    request: Request,
    draws: int,
    seed: int,
    workers: int | None,
    report: Report = quiet,
    cluster: str | None = None,
) -> OrderResult | DeliveryResult:
    """Plan an order, or compare with it what was received; `cluster` is of a Dask scheduler."""
    asked = ask(request, draws, seed, workers, MOST_SIMULATED if cluster is None else inf)
    with on_cluster(cluster):
        if request.received is None:
            return OrderResult(plan_request(asked, report))
        return DeliveryResult(after_delivery(asked, report), asked.units)


def plan_order(
    jobs: str | Path | Sequence[str | Path],
    sets: int | Sequence[int],
    catalog: str | Path | None = None,
    confidence: float | None = None,
    draws: int = 1000,
    seed: int = 0,
    workers: int | None = None,
    report: Report = quiet,
    *,
    rounds: int = 3,
    groups: int = 0,
    budget: float | None = None,
    need_by: date | None = None,
    spares: int = 0,
) -> OrderResult:
    """Plan the cheapest order with which every set ends truly matched and on target.

    Parameters
    ----------
    jobs : one job file or several; the discs of the first one's bag count as on hand
    sets : how many of each
    catalog : CSV or XLSX of sizes that are sold; the sizes of EN 16983 where None
    confidence : share of deliveries in which all sets end so, 0.95 where None
    draws : simulated deliveries
    rounds, groups : what is done to every set on the bench: rounds of gauge and swap, or groups
        of so many discs gauged and kept together
    budget : what the order may cost at most
    need_by : the day by which the springs must be there
    spares : discs that must be left over

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
        work=BenchWork(rounds, groups),
        budget=budget,
        spares=spares,
        need_by=need_by,
    )
    found = answer(request, draws, seed, workers, report)
    assert isinstance(found, OrderResult)  # no bag was received
    return found


def delivered(
    job: str | Path,
    bag: str | Path,
    sets: int | None = None,
    plan: str | Path | None = None,
    catalog: str | Path | None = None,
    draws: int = 1000,
    seed: int = 0,
    workers: int | None = None,
    report: Report = quiet,
    *,
    same_lot: bool = False,
    rounds: int = 3,
    groups: int = 0,
) -> DeliveryResult:
    """Say what a delivered bag builds, what lacks, and what to order again.

    Parameters
    ----------
    bag : all discs measured after delivery
    sets : how many are to be built; as in `plan` where None
    plan : the order.json it is compared with
    catalog, draws, seed, workers, rounds, groups : as in `plan_order`
    same_lot : what is bought after it is of the same lot, whose means and, where the bench knows
        it, stiffness the bag tells

    Raises
    ------
    InputError
        with everything that is wrong in the first file that has a problem, and where neither
        sets nor a plan tell how many are wanted.
    """
    request = Request(
        (Path(job),),
        () if sets is None else (sets,),
        None if catalog is None else Path(catalog),
        received=Path(bag),
        plan=None if plan is None else Path(plan),
        work=BenchWork(rounds, groups),
        same_lot=same_lot,
    )
    found = answer(request, draws, seed, workers, report)
    assert isinstance(found, DeliveryResult)  # a bag was received
    return found
