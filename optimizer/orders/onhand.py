"""Discs on hand: a bag read, what of it counts for which size, what it tells of its lot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log
from pathlib import Path

import numpy as np

from optimizer.errors import NoRowsError
from optimizer.estimate.prior import DiscEstimates, believe
from optimizer.estimate.problem import disc_arrays
from optimizer.frozen import frozen_arrays
from optimizer.io.bag.reader import read_bag
from optimizer.match.workspace import opened
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.like_stacks import nominal
from optimizer.model.bag import Bag
from optimizer.model.catalog import Size
from optimizer.model.job import Job
from optimizer.orders.lot import LotEstimate, seen
from optimizer.orders.manufacture import Manufacture

#: slack in mm on limits when a measured disc is told from another size
SLACK_MM = 0.02


@dataclass(frozen=True)
@frozen_arrays
class OnHand:
    """Believed discs (n) of one size with the sd of each measure (n).

    `lot` is what they tell of their lot where more of the same is bought, else None.
    """

    discs: Discs
    thickness_sd_mm: Array
    cone_height_sd_mm: Array
    stiffness_sd: Array
    lot: LotEstimate | None = None

    def __len__(self) -> int:
        """Return the number of discs."""
        return len(self.thickness_sd_mm)

    def true(self, rng: np.random.Generator) -> Discs:
        """Draw what the discs may truly be."""
        off = rng.standard_normal((3, len(self)))
        return replace(
            self.discs,
            thickness_mm=self.discs.thickness_mm + self.thickness_sd_mm * off[0],
            cone_height_mm=self.discs.cone_height_mm + self.cone_height_sd_mm * off[1],
            factor=self.discs.factor * np.exp(self.stiffness_sd * off[2]),
        )


def none_on_hand() -> OnHand:
    """Return an empty hand."""
    return OnHand(nominal(()), np.zeros(0), np.zeros(0), np.zeros(0))


def on_hand(size: Size, belief: DiscEstimates, job: Job) -> OnHand:
    """Find the discs of a bag that are of a catalog size: within its limits, but for dressing."""
    limits = size.limits
    off_t = belief.thickness_mm - size.thickness_mm
    off_l = belief.thickness_mm + belief.cone_height_mm - size.thickness_mm - size.cone_height_mm
    left = np.isin(belief.names, job.stack.leave)
    like = (
        (np.abs(belief.od_mm - size.od_mm) <= max(-limits.od.lower, SLACK_MM) + SLACK_MM)
        & (np.abs(belief.id_mm - size.id_mm) <= max(limits.id.upper, SLACK_MM) + SLACK_MM)
        & (off_t >= limits.thickness.lower - SLACK_MM)
        & (off_t <= limits.thickness.upper + SLACK_MM)
        & (off_l >= limits.height.lower - SLACK_MM)
        & (off_l <= limits.height.upper + SLACK_MM)
        & ~left
    )
    rows = np.flatnonzero(like)
    cover = belief.covariance[rows]
    return OnHand(
        disc_arrays(belief, job).take(rows),
        np.sqrt(cover[:, 0, 0]),
        np.sqrt(cover[:, 1, 1]),
        np.sqrt(cover[:, 2, 2]),
    )


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


def _of_lot(size: Size, lot: LotEstimate) -> str:
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
