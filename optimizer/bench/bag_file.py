"""The bag as the bench corrected it: a file that reads as any other bag."""

from __future__ import annotations

import csv
import io

import numpy as np

from optimizer.bench.learn import Learned
from optimizer.inventory.bag import Bag
from optimizer.job.model import Instrument
from optimizer.physics.constant import packet_constant_gradient
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index
from optimizer.units import TO_INSIDE

#: least share that a measurement keeps when its lot draws it in; below, corrections that
#: survive another reading of the file would be absurdly large
LEAST_KEPT = 0.2


def disc_slope(learned: Learned, load_n: float) -> Array:
    """Change in mm of each disc's deflection at a load by its own properties: (n, 3)."""
    rig = learned.before
    alone: Index = np.full((len(rig.belief), 3), -1)
    alone[:, 0] = np.arange(len(alone))
    slope: Array = packet_constant_gradient(rig.discs, alone, rig.model, rig.datum, load_n)[:, 0]
    return slope


def deflection_shift(learned: Learned, load_n: float) -> tuple[Array, Array]:
    """Shift of each disc's deflection at a load, and its sd now, in mm (n)."""
    slope = disc_slope(learned, load_n)
    n = len(slope)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    cover = learned.covariance[at[:, :, None], at[:, None, :]]
    sd = np.sqrt(np.einsum("ni,nij,nj->n", slope, cover, slope))
    return (slope * learned.shift[:-1].reshape(n, 3)).sum(1), sd


def calibrated_bag(bag: Bag, learned: Learned, instrument: Instrument, load_n: float) -> str:
    """Write the bag with every disc corrected by what its readings told, as CSV text.

    Notes
    -----
    Reading a bag draws values towards the mean of their lot; the corrections are divided by
    that draw, so that the file, read again, gives what was learned. A bag has no column for
    stiffness: that part of a correction goes to the thickness, at equal deflection at work.
    A disc measured several times keeps as many rows.
    """
    slope = disc_slope(learned, load_n)
    shift = learned.shift[:-1].reshape(-1, 3)
    by_thickness = shift[:, 0] + shift[:, 2] * slope[:, 2] / slope[:, 0]
    prior = learned.before.belief.covariance
    moved, _ = deflection_shift(learned, load_n)
    unit = bag.units
    factor = TO_INSIDE[unit]
    overall = all(disc.from_overall_height for disc in bag.discs)
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    lengths = ("od", "id", "thickness", "height" if overall else "cone_height", "flat")
    table.writerow(["disc", *(f"{name}_{unit}" for name in lengths), "edge", "lot", "note"])
    for i, disc in enumerate(bag.discs):
        t_sd, h_sd = (
            np.hypot(sd, step / np.sqrt(12)) / np.sqrt(disc.repeats)
            for sd, step in (
                (instrument.thickness_sd_mm, instrument.thickness_resolution_mm),
                (instrument.height_sd_mm, instrument.height_resolution_mm),
            )
        )
        whole = shift[i, 1] + by_thickness[i] if overall else shift[i, 1]
        own = prior[i, 1, 1] - (prior[i, 0, 0] if disc.from_overall_height else 0.0)
        t = disc.thickness_mm + by_thickness[i] / _kept(prior[i, 0, 0], t_sd**2)
        h = disc.cone_height_mm + (disc.thickness_mm if overall else 0.0)
        h += whole / _kept(own, h_sd**2)
        flat = f"{disc.flat_mm / factor:.5f}" if disc.flat_mm else ""
        numbers = [f"{value / factor:.6f}" for value in (disc.od_mm, disc.id_mm, t, h)]
        remark = f"bench {1000 * moved[i]:+.1f} um" if moved[i] else ""
        note = "; ".join(part for part in (disc.note, remark) if part)
        row = [disc.name, *numbers, flat, disc.edge, disc.lot, note]
        table.writerows([row] * disc.repeats)
    return out.getvalue()


def _kept(left: float, measured: float) -> float:
    return float(np.clip(left / measured, LEAST_KEPT, 1.0)) if measured > 0 else 1.0
