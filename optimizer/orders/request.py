"""From files and options to a planned order: what the command line starts with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from optimizer.clutch.engagement import target_loads
from optimizer.control import Limits, Report, quiet
from optimizer.errors import InputError, Problem, raise_if
from optimizer.estimate.prior import believe
from optimizer.estimate.problem import pose
from optimizer.io.job.reader import read_job
from optimizer.model.bag import Bag
from optimizer.model.catalog import Catalog, Size
from optimizer.model.job import Job
from optimizer.orders.catalog import fitting, in_time
from optimizer.orders.catalog_reader import read_catalog
from optimizer.orders.clutch import USUAL, BenchWork, OrderedClutch, clutch_name, clutch_of
from optimizer.orders.document import Order
from optimizer.orders.judging import ConfidenceGoal
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.onhand import OnHand, bag_of, in_hand
from optimizer.orders.order import plan_order
from optimizer.orders.received import (
    Earlier,
    Received,
    count_sets,
    expected,
    lot_means,
    read_earlier,
)
from optimizer.units import TO_INSIDE

#: sets in all times deliveries simulated: some ten minutes of work
MOST_SIMULATED = 100_000
#: seconds that dealing a received bag may take
DEALING_SECONDS = 60.0


@dataclass(frozen=True)
class Request:
    """What the user gave; lengths in the units of the first job.

    `assumed` is what was said of how discs are made, by the fields of `Manufacture`.
    `sets` may be empty, and `confidence` None, where the earlier order `plan` tells them. What
    does not come by `need_by` is not bought; with `same_lot` what is bought after a delivery is of
    the lot of it.
    """

    jobs: tuple[Path, ...]
    sets: tuple[int, ...] = ()
    catalog: Path | None = None
    bore: float | None = None
    room: float | None = None
    received: Path | None = None
    plan: Path | None = None
    confidence: float | None = None
    assumed: Mapping[str, float] = field(default_factory=dict)
    work: BenchWork = USUAL
    budget: float | None = None
    spares: int = 0
    need_by: date | None = None
    same_lot: bool = False


@dataclass(frozen=True)
class CheckedRequest:
    """A request read and checked: everything the planning needs."""

    jobs: tuple[Job, ...]
    clutches: tuple[OrderedClutch, ...]
    catalog: Catalog
    sizes: tuple[Size, ...]
    making: Manufacture
    bag: Bag | None
    on_hand: dict[str, OnHand]
    goal: ConfidenceGoal
    earlier: Earlier | None
    warnings: tuple[str, ...]

    @property
    def units(self) -> str:
        """Return the units of the first job."""
        return self.jobs[0].units


def ask(
    request: Request,
    draws: int = 1000,
    seed: int = 0,
    workers: int | None = None,
    most: float = MOST_SIMULATED,
) -> CheckedRequest:
    """Read jobs, bag, catalog and the earlier order.

    Sets in all times draws are `most` at most; a cluster may make any number. The discs of the
    first job's bag are on hand; a bag that is not there holds none.

    Raises
    ------
    InputError
        with everything that is wrong in the first file that has a problem.
    """
    raise_if((*_problems(request), *_too_much(request, draws, most)))
    earlier = None if request.plan is None else read_earlier(request.plan)
    jobs = tuple(read_job(path) for path in request.jobs)
    factor = TO_INSIDE[jobs[0].units]
    making = _making(request, jobs[0], earlier)
    catalog = read_catalog(request.catalog)
    if earlier is not None and request.catalog is None and earlier.catalog != catalog.path.name:
        raise InputError(
            f"Expected the catalog of the earlier order, {earlier.catalog}, got none.",
            "--catalog",
            f"Add --catalog {earlier.catalog}, so that what lacks is bought from it.",
        )
    sizes = fitting(
        catalog.sizes,
        None if request.bore is None else request.bore * factor,
        None if request.room is None else request.room * factor,
    )
    warnings: list[str] = []
    if request.need_by is not None:
        sizes, late = in_time(sizes, (request.need_by - date.today()).days)
        warnings += late
    if request.bore is None or request.room is None:
        warnings.append("Whether a size fits is only looked at with both --bore and --room.")
    sets = request.sets
    if not sets and earlier is not None:
        sets = (sum(of.sets for of in earlier.clutches if clutch_name(jobs[0]) == of.name) or 1,)
    sets = sets if len(sets) == len(jobs) else sets * len(jobs)
    clutches = []
    for job, count in zip(jobs, sets, strict=True):
        clutch, remarks = clutch_of(job, target_loads(job), count, making.flat_mm, request.work)
        clutches.append(clutch)
        warnings += remarks
    if earlier is not None:
        earlier.check(clutches[0])
        if earlier.catalog != catalog.path.name:
            warnings.append(f"The earlier order was planned from {earlier.catalog}.")
    bag, remark = bag_of(jobs[0], request.received)
    warnings += remark
    held: dict[str, OnHand] = {}
    if bag is not None:
        held, remark = in_hand(jobs[0], bag, sizes, making, request.same_lot)
        warnings += remark
    usual = ConfidenceGoal().asked if earlier is None else earlier.asked
    asked = usual if request.confidence is None else request.confidence
    goal = ConfidenceGoal(asked, draws, seed, workers, request.budget, request.spares)
    return CheckedRequest(
        jobs, tuple(clutches), catalog, sizes, making, bag, held, goal, earlier, tuple(warnings)
    )


def _making(request: Request, job: Job, earlier: Earlier | None) -> Manufacture:
    """Return what is assumed: as said, else as in the earlier order, else as usual."""
    usual = Manufacture(disc_stiffness_sd=job.model.disc_stiffness_sd)
    making = replace(usual if earlier is None else earlier.making, **request.assumed)
    if "flat_mm" in request.assumed:
        making = replace(making, flat_mm=making.flat_mm * TO_INSIDE[job.units])
    return making


def _too_much(request: Request, draws: int, most: float) -> Iterator[Problem]:
    each = request.sets if len(request.sets) > 1 else request.sets * len(request.jobs)
    if sum(each) * draws > most:
        yield Problem(
            f"Expected at most {most:.0f} sets simulated in all, got {sum(each)} sets in "
            f"{draws} deliveries.",
            "--sets, --draws",
            f"Write --draws {max(int(most) // sum(each), 20)}, plan fewer sets at once, or send "
            "the draws to a cluster with --cluster ADDRESS.",
        )


def _problems(request: Request) -> Iterator[Problem]:
    jobs, sets, confidence = request.jobs, request.sets, request.confidence
    if request.need_by is not None and request.need_by < date.today():
        what = f"Expected a day to come, got {request.need_by}."
        remedy = "Write the day by which the springs must be there, as 2031-05-01."
        yield Problem(what, "--need-by", remedy)
    if confidence is not None and not 0 < confidence < 1:
        what = f"Expected a confidence between 0 and 1, got {confidence:g}."
        yield Problem(what, "--confidence", "Write 0.95 for 95 %.")
    if not sets and request.plan is None:
        yield Problem("Expected how many sets to build.", "--sets", "Write --sets 4 for four.")
    if sets and len(sets) not in (1, len(jobs)):
        what = (
            f"Expected --sets once, or once for each of {len(jobs)} jobs, got it {len(sets)} times."
        )
        yield Problem(what, "--sets", "Give the sets in the order of the jobs.")
    if request.plan is not None and request.received is None:
        what = "An earlier order is compared with what was delivered."
        yield Problem(what, "--plan", "Give the delivered bag with --received BAG.")
    if request.same_lot and request.received is None:
        remedy = "Give the sample or the delivery that it goes on from with --received BAG."
        yield Problem("The same lot as what?", "--same-lot", remedy)
    if request.received is not None and len(jobs) > 1:
        what = f"Expected one job with --received, got {len(jobs)}."
        yield Problem(what, "--received", "Deal the bag into the sets of one job at a time.")


def plan_request(asked: CheckedRequest, report: Report = quiet) -> Order:
    """Plan the order."""
    return plan_order(
        asked.clutches, asked.catalog, asked.sizes, asked.making, asked.on_hand, asked.goal,
        asked.units, asked.warnings, report,
    )  # fmt: skip


def after_delivery(asked: CheckedRequest, report: Report = quiet) -> Received:
    """Compare a received bag with what is to be built and was planned; plan what to reorder."""
    job, clutch, bag = asked.jobs[0], asked.clutches[0], asked.bag
    assert bag is not None  # a bag that was received is read
    task = pose(believe(bag, job), job, target_loads(job))
    goal, limits = asked.goal, Limits(DEALING_SECONDS)
    found = count_sets(task, clutch.sets, clutch.spread_n, limits, goal.seed, report)
    return replace(
        found,
        lots=lot_means(asked.sizes, asked.on_hand, asked.making),
        planned=asked.earlier,
        expected=expected(asked.earlier, asked.on_hand),
        reorder=plan_request(asked, report) if found.short_sets else None,
        same_lot=any(hand.lot is not None for hand in asked.on_hand.values()),
    )
