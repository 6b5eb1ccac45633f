"""The discs in hand: a bag read, what of it counts for which size, what it tells of its lot."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log
from pathlib import Path

from optimizer.errors import NoRowsError
from optimizer.estimate.prior import believe
from optimizer.io.bag.reader import read_bag
from optimizer.match.workspace import opened
from optimizer.model.bag import Bag
from optimizer.model.job import Job
from optimizer.orders.catalog import Size
from optimizer.orders.lot import Lot, seen
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.onhand import OnHand, on_hand


def bag_of(job: Job, received: Path | None) -> tuple[Bag | None, list[str]]:
    """Read the bag of a job or the one received; None where none is there or it is empty.

    Raises
    ------
    InputError
        with everything that is wrong in the file, and where a bag received is not there.
    """
    path = job.bag_file if received is None else received
    if received is None and not path.exists():
        return None, [f"There is no bag {path.name}: planned with no disc on hand."]
    try:
        bag = read_bag(path, job)
    except NoRowsError:
        if received is not None:
            raise
        return None, [f"The bag {path.name} is empty: planned with no disc on hand."]
    return bag, list(bag.warnings)


def in_hand(
    job: Job, bag: Bag, sizes: tuple[Size, ...], making: Manufacture, same_lot: bool
) -> tuple[dict[str, OnHand], list[str]]:
    """Return the discs that count for each size, by its name, and what to know of them.

    With `same_lot` more of the same lot is bought: the discs tell its means, and what the bench
    learned of them its stiffness.
    """
    belief = believe(bag, job)
    held = {size.name: on_hand(size, belief, job) for size in sizes}
    if not same_lot:
        return held, []
    known = opened(job, bag).known
    stiff = None
    if known is not None and known.factor_sd is not None:
        stiff = log(known.learned.load_factor / job.model.load_factor), known.factor_sd
    remarks = []
    for size in sizes:
        discs = held[size.name].discs
        lot = seen(size, making, job.instrument, discs, stiff)
        if lot.discs:
            discs = replace(discs, factor=discs.factor * exp(lot.stiff))
            held[size.name] = replace(held[size.name], discs=discs, lot=lot)
            remarks.append(_of_lot(size, lot))
    return held, remarks


def _of_lot(size: Size, lot: Lot) -> str:
    told = (
        f"its load factor to {lot.stiff_sd:.1%} by the readings of the bench"
        if lot.gauged
        else f"its load factor only to the assumed {lot.stiff_sd:.1%}: press a stack of them on "
        "the gauge (evenstack bench) and plan again"
    )
    return (
        f"What is bought of {size.name} counts as of the lot of the {lot.discs} discs in hand, "
        f"whose mean thickness they tell to {1000 * lot.middle_sd_mm[0]:.1f} um, {told}."
    )
