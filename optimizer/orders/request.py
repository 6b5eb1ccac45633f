"""From files and options to a planned order: what the command line starts with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from optimizer.assignment.limits import Limits, Report, quiet
from optimizer.assignment.problem import pose
from optimizer.clutch.target import target_loads
from optimizer.errors import InputError, Problem, raise_if
from optimizer.inventory.belief import Belief, believe
from optimizer.inventory.reader import read_bag
from optimizer.job.model import Job
from optimizer.job.reader import read_job
from optimizer.orders.catalog import Catalog, Size, fitting
from optimizer.orders.catalog_reader import read_catalog
from optimizer.orders.clutch import Clutch, clutch_of
from optimizer.orders.deliver import Making
from optimizer.orders.document import Order
from optimizer.orders.onhand import OnHand, on_hand
from optimizer.orders.order import Wish, plan_order
from optimizer.orders.received import Received, count_sets, lot_means
from optimizer.units import TO_INSIDE

#: seconds that dealing a received bag may take
DEALING_SECONDS = 60.0


@dataclass(frozen=True)
class Request:
    """What the user gave; lengths in the units of the first job."""

    jobs: tuple[Path, ...]
    sets: tuple[int, ...]
    catalog: Path | None = None
    bore: float | None = None
    room: float | None = None
    flat: float = 0.0
    received: Path | None = None


@dataclass(frozen=True)
class Asked:
    """A request read and checked: everything the planning needs."""

    jobs: tuple[Job, ...]
    clutches: tuple[Clutch, ...]
    catalog: Catalog
    sizes: tuple[Size, ...]
    making: Making
    belief: Belief | None
    on_hand: dict[str, OnHand]
    wish: Wish
    warnings: tuple[str, ...]

    @property
    def units(self) -> str:
        """Return the units of the first job."""
        return self.jobs[0].units


def ask(request: Request, making: Making, wish: Wish) -> Asked:
    """Read jobs, bag and catalog.

    The discs of the first job's bag are on hand; a bag that is not there holds none.

    Raises
    ------
    InputError
        with everything that is wrong in the first file that has a problem.
    """
    raise_if(_problems(request, wish))
    jobs = tuple(read_job(path) for path in request.jobs)
    factor = TO_INSIDE[jobs[0].units]
    making = replace(
        making,
        flat_mm=request.flat * factor,
        disc_stiffness_sd=jobs[0].model.disc_stiffness_sd,
    )
    catalog = read_catalog(request.catalog)
    sizes = fitting(
        catalog.sizes,
        None if request.bore is None else request.bore * factor,
        None if request.room is None else request.room * factor,
    )
    warnings: list[str] = []
    if request.bore is None or request.room is None:
        warnings.append("Whether a size fits is only looked at with both --bore and --room.")
    sets = request.sets if len(request.sets) == len(jobs) else request.sets * len(jobs)
    clutches = []
    for job, count in zip(jobs, sets, strict=True):
        clutch, remarks = clutch_of(job, target_loads(job), count, making.flat_mm)
        clutches.append(clutch)
        warnings += remarks
    belief, remark = _bag(jobs[0], request.received)
    warnings += remark
    held = {} if belief is None else {s.name: on_hand(s, belief, jobs[0]) for s in sizes}
    return Asked(jobs, tuple(clutches), catalog, sizes, making, belief, held, wish, tuple(warnings))


def _problems(request: Request, wish: Wish) -> list[Problem]:
    found = []
    if not 0 < wish.asked < 1:
        found.append(
            Problem(
                f"Expected a confidence between 0 and 1, got {wish.asked:g}.",
                "--confidence",
                "Write 0.95 for 95 %.",
            )
        )
    if len(request.sets) not in (1, len(request.jobs)):
        found.append(
            Problem(
                f"Expected --sets once, or once for each of {len(request.jobs)} jobs, got it "
                f"{len(request.sets)} times.",
                "--sets",
                "Give the sets in the order of the jobs.",
            )
        )
    return found


def _bag(job: Job, received: Path | None) -> tuple[Belief | None, list[str]]:
    path = job.bag_file if received is None else received
    if received is None and not path.exists():
        return None, [f"There is no bag {path.name}: planned with no disc on hand."]
    bag = read_bag(path, job)
    return believe(bag, job), list(bag.warnings)


def plan_request(asked: Asked, report: Report = quiet) -> Order:
    """Plan the order."""
    return plan_order(
        asked.clutches,
        asked.catalog,
        asked.sizes,
        asked.making,
        asked.on_hand,
        asked.wish,
        asked.units,
        asked.warnings,
        report,
    )


def after_delivery(asked: Asked, report: Report = quiet) -> Received:
    """Compare a received bag with what is to be built, and plan what to reorder.

    Raises
    ------
    InputError
        when more than one job was given: a bag is dealt into the sets of one.
    """
    if len(asked.jobs) > 1:
        raise InputError(
            Problem(
                f"Expected one job with --received, got {len(asked.jobs)}.",
                "--received",
                "Deal the bag into the sets of one job at a time.",
            )
        )
    job, clutch, belief = asked.jobs[0], asked.clutches[0], asked.belief
    assert belief is not None  # a bag that was received is read
    task = pose(belief, job, target_loads(job))
    found, bound, pattern, reasons = count_sets(
        task, clutch.sets, clutch.spread_n, Limits(DEALING_SECONDS), asked.wish.seed, report
    )
    reorder = plan_request(asked, report) if found < clutch.sets else None
    return Received(
        discs=len(belief),
        wanted_sets=clutch.sets,
        buildable_sets=found,
        buildable_bound=bound,
        pattern=pattern,
        lots=lot_means(asked.sizes, asked.on_hand),
        reasons=reasons,
        reorder=reorder,
    )
