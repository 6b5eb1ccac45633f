"""What the bench makes of a set: the chance that it ends truly within, by the work done on it.

The learning loop is not played for every set of every delivery. Full plays on a hidden bench
were tabulated once (`bench_response.csv`, remade by `python -m tests.orders.response`) over
three numbers, all of them standard deviations of a stack's load over the spread tolerance:
what a build makes anew, what lasts and is not known, what a reading errs. What is kept of a
cell is the standard deviation of three independent loads that would be within as often.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import product

import numpy as np

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.probability import spread_within
from optimizer.mechanics.constant import packet_constant, packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.orders.catalog import nominal
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate
from optimizer.orders.spreads import tool_sd, within_lot_sd

TABLE = "bench_response.csv"
#: rounds on the gauge that the table knows, and the chance at which a set of an order is left
ROUNDS, STOP_AT = 8, 0.99
#: step in mm of the difference that tells what a wider flat adds to a load
FLAT_STEP_MM = 1e-4
#: chances that a standard deviation is told from
_NEVER, _EVER = 1e-6, 1 - 1e-7


@dataclass(frozen=True)
class Doubts:
    """Standard deviations in N of the load of one stack about what was dealt for.

    `scatter` is drawn at every build; `lasting` comes from its discs, `place` from travel and
    seat of its shoe; `reading` is that of one reading of the stack, `grouped` that of all its
    groups of `work.groups` read one by one.
    """

    scatter: float
    lasting: float
    place: float
    reading: float
    grouped: float


def doubts_of(candidate: Candidate, clutch: OrderedClutch, making: Manufacture) -> Doubts:
    """Work out the doubts of a nominal stack, to first order."""
    sizes = np.array(candidate.pattern.sizes)
    members = np.where(np.arange(3) < sizes[:, None], 0, -1)
    steel = nominal((candidate.size,), making.flat_mm, clutch.poisson)
    rate, at = candidate.rate_n_per_mm, clutch.target_n
    slope = packet_constant_gradient(steel, members, clutch.model, clutch.datum, at)
    by_disc = rate * slope[members >= 0]  # discs of a stack, by thickness, height, stiffness
    known = [
        lot * tool / np.hypot(lot, tool) if lot or tool else 0.0
        for lot, tool in zip(
            within_lot_sd(candidate.size, making), tool_sd(clutch.instrument), strict=True
        )
    ]
    sds = np.array([*known, making.disc_stiffness_sd])
    flats = 0.0
    if making.flat_mm > 0:
        wider = nominal((candidate.size,), making.flat_mm + FLAT_STEP_MM, clutch.poisson)
        change = packet_constant(wider, members, clutch.model, clutch.datum, at)
        change -= packet_constant(steel, members, clutch.model, clutch.datum, at)
        flats = rate * float(np.linalg.norm(change / np.sqrt(sizes))) / FLAT_STEP_MM
    groups = max(candidate.pattern.discs // clutch.work.groups, 1) if clutch.work.groups else 1
    of_discs = float(np.linalg.norm(by_disc * sds))
    return Doubts(
        scatter=clutch.scatter * float(np.linalg.norm(by_disc[:, 2])),
        lasting=float(np.hypot(of_discs, flats * clutch.instrument.flat_sd_mm)),
        place=rate * clutch.place_sd_mm,
        reading=float(np.sqrt(reading_variance(clutch.gauge, rate))),
        grouped=float(np.sqrt(reading_variance(clutch.gauge, rate * groups) / groups)),
    )


def set_chance(doubts: Doubts, clutch: OrderedClutch) -> float:
    """Chance that a set is truly within its spread tolerance after the work of the builder.

    Notes
    -----
    A gauge beside the clutch sees nothing of travel and seat of the shoes, so that their doubt
    stays on top of what the work leaves. Groups are read beside it, each once, and stay together.
    """
    work, width = clutch.work, clutch.spread_n
    place = doubts.place
    if work.groups:
        left = doubts.grouped
    elif not work.rounds:
        left = float(np.hypot(doubts.scatter, doubts.lasting))
    else:
        seen, place = (place, 0.0) if clutch.gauge.reads == "in the clutch" else (0.0, place)
        at = (doubts.scatter, float(np.hypot(doubts.lasting, seen)), doubts.reading)
        left = width * left_over((at[0] / width, at[1] / width, at[2] / width), work.rounds)
    return within(float(np.hypot(left, place)) / width, clutch.shoes)


def within(sd: float, shoes: int = 3) -> float:
    """Chance that `shoes` independent loads of a standard deviation are within 1 of each other."""
    return float(spread_within(np.zeros(shoes), sd**2 * np.eye(shoes), 1.0))


def left_over(doubts: tuple[float, float, float], rounds: int) -> float:
    """Standard deviation that so many rounds leave, all over the spread tolerance.

    After one round it is what the build left, as nothing is swapped yet, and never more. Linear
    in the logarithms between cells of the table. Below its first cells it is as in them; beyond
    its last it grows with the doubt that is largest beyond it.
    """
    axes, table = _table()
    beyond: float = max(1.0, *(float(d / axis[-1]) for d, axis in zip(doubts, axes, strict=True)))
    corner, part = [], []
    for doubt, axis in zip(doubts, axes, strict=True):
        at = float(np.interp(np.log(max(doubt, 1e-9)), np.log(axis), np.arange(len(axis))))
        corner.append(min(int(at), len(axis) - 2))
        part.append(at - corner[-1])
    found = 0.0
    for ends in product((0, 1), repeat=3):
        weight = float(np.prod([p if end else 1 - p for p, end in zip(part, ends, strict=True)]))
        cell = tuple(c + end for c, end in zip(corner, ends, strict=True))
        found += weight * float(np.log(table[(*cell, max(min(rounds, ROUNDS), 1) - 1)]))
    first = float(np.hypot(doubts[0], doubts[1]))
    return first if rounds <= 1 else min(float(np.exp(found)) * beyond, first)


@cache
def _table() -> tuple[tuple[Array, Array, Array], Array]:
    """Return the three axes and the standard deviations (A, B, C, ROUNDS) left over."""
    text = (files("optimizer.orders") / TABLE).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])
    a, b, c = (_axis(rows[:, k]) for k in range(3))
    sd = np.interp(-rows[:, 5:], *_sd_by_chance()).reshape(len(a), len(b), len(c), -1)
    sd = np.minimum.accumulate(sd, axis=-1)  # a set that got worse would have been left before
    # more doubt is not better: what chance in the plays says so is evened out
    for axis in range(3):
        up = np.maximum.accumulate(sd, axis=axis)
        down = np.flip(np.minimum.accumulate(np.flip(sd, axis), axis=axis), axis)
        sd = np.sqrt(up * down)
    return (a, b, c), sd


def _axis(column: Array) -> Array:
    """Return the different values of a column, which differ in the last digits as well."""
    near = column.round(2)
    means: Array = np.array([column[near == value].mean() for value in np.unique(near)])
    return means


@cache
def _sd_by_chance() -> tuple[Array, Array]:
    """Chances (negated, rising) of three loads and the standard deviations that have them."""
    sds = np.geomspace(0.02, 20.0, 400)
    chances = np.clip([within(float(sd)) for sd in sds], _NEVER, _EVER)
    return -chances, sds
