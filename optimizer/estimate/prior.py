"""What the measurements let us believe of each disc, and with how much uncertainty.

A noisy instrument overstates how different discs are, so each measured value is drawn
towards the mean of its like (same lot, edge and size) as far as the noise explains the
differences; the uncertainty that stays is that of the same linear-Gaussian model.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import MechanicsError
from optimizer.estimate.lots import NOTHING_MM2, lot_statistics, taught
from optimizer.frozen import frozen_arrays, taken
from optimizer.mechanics.disc import Array, Discs, Mask
from optimizer.mechanics.disc import discs as disc_arrays
from optimizer.mechanics.law import LAWS, Law
from optimizer.mechanics.packet import Index, LoadModel, load, packets
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import Instrument, Job
from optimizer.model.sizes import sizes

#: relative sd of the factor that all loads share, before any reading: the law is 3 to 13 % high
#: by finite elements and the finite-thickness form within 2.4 % (tests/data), a lot's modulus
#: is off by some 1.5 % (assumed)
LEVEL_SD = {"en16984": 0.05, "thick": 0.025}
#: step by which a flat is widened to see what it does
FLAT_STEP_MM = 0.001
#: relative sd of thickness and cone height that were not measured but are nominal; assumptions,
#: about half of what the tolerances of EN 16983 leave
NOMINAL_SD = {"thickness": 0.02, "cone_height": 0.05}
#: sd of a flat that was not measured, as a share of the width assumed; an assumption
FLAT_SD = 0.2


@dataclass(frozen=True)
@frozen_arrays
class DiscEstimates:
    """Believed discs, arrays of n; lengths in mm.

    `covariance` (n, 3, 3) is the uncertainty in thickness (mm), cone height (mm) and the
    logarithm of the stiffness factor, of whose variance the part `flat_share` (n) is that of the
    flat; `scatter` (n) the relative load scatter of a disc from build to build;
    `factor` (n) the believed stiffness factor; `overall` (n) tells that the overall height was
    measured, not the cone height; `level_sd` the relative uncertainty of the factor that all loads
    share where discs pressed alone told it, None where that of the law stands; `instrument_doubt`
    what repeats left of the uncertainty of the instrument's sds (share).
    """

    names: tuple[str, ...]
    od_mm: Array
    id_mm: Array
    thickness_mm: Array
    cone_height_mm: Array
    flat_mm: Array
    factor: Array
    covariance: Array
    scatter: Array
    overall: Mask
    flat_share: Array
    level_sd: float | None = None
    instrument_doubt: float = 1.0

    def __len__(self) -> int:
        """Return the number of discs."""
        return len(self.names)

    @cached_property
    def numbers(self) -> Mapping[str, int]:
        """Number of every disc by its name."""
        return {name: number for number, name in enumerate(self.names)}

    def shifted(self, by: Array) -> DiscEstimates:
        """Return the discs moved in thickness, cone height (mm) and ln stiffness (n, 3)."""
        return replace(
            self,
            thickness_mm=self.thickness_mm + by[:, 0],
            cone_height_mm=self.cone_height_mm + by[:, 1],
            factor=self.factor * np.exp(by[:, 2]),
        )

    def take(self, rows: Index) -> DiscEstimates:
        """Return some of the discs."""
        return replace(taken(self, rows), names=tuple(self.names[d] for d in rows))


def believe(bag: Bag, job: Job) -> DiscEstimates:
    """Turn measured discs into believed ones.

    Notes
    -----
    Thickness and cone height of a lot are taken as independent normals about the lot's
    means; their measured values carry the correlated noise of `measurement_noise`, and
    both are estimated together. The error of a lot's mean, common to all stacks, is left
    out: it moves the loads, not their differences.
    """
    discs = bag.discs
    tool, doubt_left = taught(job.instrument, bag)
    overall = np.array([d.from_overall_height for d in discs])
    repeats = np.array([d.repeats for d in discs], dtype=np.float64)
    measured = np.array([(d.thickness_mm, d.cone_height_mm) for d in discs])
    like = _groups(discs)
    noise = measurement_noise(tool, overall, repeats)
    noise += _nominal_noise(discs, measured, overall)
    each = -1 - np.arange(len(discs))  # what is nominal says nothing of its lot
    lots = [
        lot_statistics(
            measured[:, k],
            noise[:, k, k],
            np.where([name in d.nominal for d in discs], each, group),
        )
        for k, (name, group) in enumerate(
            (("thickness", like), ("cone_height", 2 * like + overall))
        )
    ]
    mean = np.stack([lot[0] for lot in lots], axis=-1)
    before = np.zeros((len(discs), 3, 3))
    for k, (_, variance, _) in enumerate(lots):
        before[:, k, k] = variance
    check_discs(discs, job.model.law)
    flat = flat_uncertainty(discs, repeats, job.instrument, job.model.law) ** 2
    before[:, 2, 2] = job.model.disc_stiffness_sd**2 + flat
    gain, covariance = measured_again(before, noise)
    believed = mean + np.einsum("nij,nj->ni", gain[:, :2], measured - mean)
    for k, (_, _, unsure) in enumerate(lots):
        covariance[:, k, k] += unsure * (measured[:, k] - mean[:, k]) ** 2
    sharp = np.array([d.edge == "sharp" for d in discs])
    return DiscEstimates(
        names=tuple(d.name for d in discs),
        od_mm=np.array([d.od_mm for d in discs]),
        id_mm=np.array([d.id_mm for d in discs]),
        thickness_mm=believed[:, 0],
        cone_height_mm=believed[:, 1],
        flat_mm=np.array([d.inset_mm for d in discs]),
        factor=np.ones(len(discs)),
        covariance=covariance,
        scatter=np.where(sharp, job.model.sharp_scatter, job.model.dressed_scatter),
        overall=overall,
        flat_share=np.divide(flat, before[:, 2, 2], out=np.zeros_like(flat), where=flat > 0),
        instrument_doubt=doubt_left,
    )


def _nominal_noise(discs: Sequence[Disc], lengths_mm: Array, overall: Mask) -> Array:
    """Covariance (n, 2, 2) in mm^2 of lengths (n, 2) that are nominal, 0 where measured."""
    sd = np.array([[NOMINAL_SD[k] * (k in d.nominal) for k in NOMINAL_SD] for d in discs])
    t, h = (lengths_mm.T * sd.T) ** 2
    shared = np.where(overall, t, 0.0)
    return np.moveaxis(np.array([[t, -shared], [-shared, h + shared]]), -1, 0)


def flat_uncertainty(discs: Sequence[Disc], repeats: Array, tool: Instrument, law: str) -> Array:
    """Relative load uncertainty (n) of flats, measured or assumed, and of measured edge radii.

    A sharp disc whose corners were not looked at has none of its own: what their rounding does
    is much the same for all of a lot, and so a part of the uncertainty of the level.
    """
    measured = tool.flat_sd_mm / np.sqrt(repeats)
    sd = [
        FLAT_SD * d.flat_mm if d.flat_assumed else own if d.edge == "dressed" or d.inset_mm else 0.0
        for d, own in zip(discs, measured, strict=True)
    ]
    return np.array(sd) * load_per_flat(_arrays(discs), LAWS[law])


def load_per_flat(d: Discs, law: Law) -> Array:
    """Relative change of each disc's load (n) per mm of its flat, at half its cone height."""
    loads = []
    for wider in (0.0, FLAT_STEP_MM):
        each = np.arange(len(d.flat_mm))[:, None]
        p = packets(replace(d, flat_mm=d.flat_mm + wider), each, LoadModel(law))
        loads.append(load(p, p.free_mm / 2))
    return np.log(loads[1] / loads[0]) / FLAT_STEP_MM


def level_sd(law: Law, told: float | None = None) -> float:
    """Relative uncertainty of the factor all loads computed by a law share: as told, else usual."""
    return next(sd for name, sd in LEVEL_SD.items() if LAWS[name] is law) if told is None else told


def _arrays(discs: Sequence[Disc]) -> Discs:
    """Discs as measured."""
    columns = ("od_mm", "id_mm", "thickness_mm", "cone_height_mm", "inset_mm")
    od, bore, t, h, flat = (np.array([getattr(d, name) for d in discs]) for name in columns)
    return disc_arrays(od, bore, t, h, flat)


def check_discs(discs: Sequence[Disc], law: str) -> None:
    """Name the discs that the load law has no answer for.

    Raises
    ------
    MechanicsError
        with each of them.
    """
    every, model = np.arange(len(discs))[:, None], LoadModel(LAWS[law])
    d = _arrays(discs)
    d = replace(d, flat_mm=d.flat_mm + FLAT_STEP_MM)
    with suppress(MechanicsError):
        packets(d, every, model)
        return
    problems = []
    for row, disc in zip(every, discs, strict=True):
        try:
            packets(d, row[None], model)
        except MechanicsError as error:
            problems += [replace(one, where=f"disc {disc.name}") for one in error.problems]
    raise MechanicsError(*problems)


def measurement_noise(tool: Instrument, overall: Mask, repeats: Array) -> Array:
    """Covariance (n, 2, 2) in mm^2 of measured thickness and cone height.

    Notes
    -----
    The mean of `repeats` measurements has variance sd^2/repeats + resolution^2/12: a display
    that rounds the same length rounds it the same way each time. A cone height found as
    overall height less thickness holds the error of the thickness with the opposite sign.
    """
    thickness = tool.thickness_sd_mm**2 / repeats + tool.thickness_resolution_mm**2 / 12
    height = tool.height_sd_mm**2 / repeats + tool.height_resolution_mm**2 / 12
    shared = np.where(overall, thickness, 0.0)
    rows = [[thickness, -shared], [-shared, height + shared]]
    return np.moveaxis(np.array(rows), -1, 0)


def measured_again(covariance: Array, noise_mm2: Array) -> tuple[Array, Array]:
    """What measuring thickness and cone height does to the uncertainty of discs.

    Parameters
    ----------
    covariance : (n, 3, 3) of thickness, cone height and ln(stiffness) before
    noise_mm2 : (n, 2, 2) of the measurement

    Returns
    -------
    The gain (n, 3, 2), what part of a surprise is believed, and the covariance after
    (Kalman, J. Basic Eng. 82 (1960) 35).
    """
    seen = covariance[:, :, :2]
    floor = NOTHING_MM2 * np.eye(2)
    gain = seen @ np.linalg.inv(covariance[:, :2, :2] + noise_mm2 + floor)
    after = covariance - gain @ np.swapaxes(seen, -1, -2)
    return gain, (after + np.swapaxes(after, -1, -2)) / 2


def _groups(discs: tuple[Disc, ...]) -> NDArray[np.intp]:
    """Number the kinds of disc that should be alike but for manufacture."""
    size = sizes([d.od_mm for d in discs], [d.id_mm for d in discs]).tolist()
    keys = [(d.lot, d.edge, number) for d, number in zip(discs, size, strict=True)]
    label = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    return np.array([label[key] for key in keys], dtype=np.intp)
