"""What the bench makes of a set: the chance that it ends truly within, by the work done on it.

The learning loop is not played for every set of every delivery. Full plays on hidden benches
of all kinds were made once, and a law of ten numbers laid through what came true
(`bench_response.csv`, remade by `python -m tests.orders.response`). Four numbers tell a bench,
all of them standard deviations of a stack's load over the spread tolerance: what a build makes
anew, what lasts and is not known of its discs and of its shoe, what a reading errs. A chance
stands for the standard deviation of three independent loads that would be within as often.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.probability import spread_within
from optimizer.mechanics.constant import packet_constant, packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.mechanics.like_stacks import nested, nominal
from optimizer.orders.lot import tool_sd, within_lot_sd
from optimizer.orders.quantity import Proportion
from optimizer.orders.study import Study

TABLE = "bench_response.csv"
#: rounds on the gauge that were played, and the chance at which a set of an order is left
ROUNDS, STOP_AT = 8, 0.99
#: how well what is left over is known: sd of its ln, likeliest over benches that are not in the law
LAW_SD = 0.15
#: step in mm of the difference that tells what a wider flat adds to a load
FLAT_STEP_MM = 1e-4
#: what tells a bench, and the numbers of the law
WORDS = ("scatter", "discs", "place", "reading")
LAW = (*WORDS, *(f"{word}_fall" for word in WORDS), "power", "least")


@dataclass(frozen=True)
class StackSds:
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


def stack_sds(study: Study) -> StackSds:
    """Work out the sds of a nominal stack, to first order."""
    candidate, clutch, making = study.candidate, study.clutch, study.making
    sizes = np.array(candidate.pattern.sizes)
    members = nested(1)[0, sizes - 1]
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
    return StackSds(
        scatter=clutch.scatter * float(np.linalg.norm(by_disc[:, 2])),
        lasting=float(np.hypot(of_discs, flats * clutch.instrument.flat_sd_mm)),
        place=rate * clutch.place_sd_mm,
        reading=float(np.sqrt(reading_variance(clutch.gauge, rate))),
        grouped=float(np.sqrt(reading_variance(clutch.gauge, rate * groups) / groups)),
    )


def set_chance(study: Study) -> Proportion:
    """Chance that a set is truly within its spread tolerance after the work of the builder.

    Between what it lies tells how well the law is known (95 %).

    Notes
    -----
    A gauge beside the clutch sees nothing of travel and seat of the shoes, so that their
    uncertainty stays on top of what the work leaves. Groups are read beside it, each once, and stay
    together.
    """
    sds, clutch = stack_sds(study), study.clutch
    work, width, law_sd = clutch.work, clutch.spread_n, 0.0
    place, of_discs = sds.place, (sds.scatter, sds.lasting)
    if work.groups:
        left = sds.grouped
    elif not work.rounds:
        left = float(np.hypot(*of_discs))
    else:
        seen, place = (place, 0.0) if clutch.gauge.reads == "in the clutch" else (0.0, place)
        at = np.array([*of_discs, seen, sds.reading]) / width
        left = width * left_over(tuple(at), work.rounds)
        law_sd = 1.96 * LAW_SD if work.rounds > 1 else 0.0
    share, low, high = (
        within(float(np.hypot(left * by, place)) / width, clutch.shoes)
        for by in (1.0, np.exp(law_sd), np.exp(-law_sd))
    )
    return Proportion(share, low, high)


def within(sd: float, shoes: int = 3) -> float:
    """Chance that `shoes` independent loads of a standard deviation are within 1 of each other."""
    return float(spread_within(np.zeros(shoes), sd**2 * np.eye(shoes), 1.0))


def left_over(sds: tuple[float, ...], rounds: int) -> float:
    """Standard deviation that so many rounds leave, all over the spread tolerance.

    After one round it is what the build left, as nothing is swapped yet, and never more.

    Parameters
    ----------
    sds : those of builds, discs, shoe and reading
    """
    first = float(np.linalg.norm(sds[:3]))
    if rounds <= 1:
        return first
    return min(float(left(np.array(sds), min(rounds, ROUNDS), _law())), first)


def left(sds: Array, rounds: Array | float, law: Array) -> Array:
    """Return what n >= 2 rounds leave of sds (..., 4) by a law: (...).

    Notes
    -----
    sd^2 = (sum_k a_k x_k^2 (2 / n)^f_k)^p + least^2: variances add, each falls with the rounds at a
    rate of its own, and a set is left as it is when it is sure enough. All numbers are positive,
    so that more doubt and fewer rounds are never better.
    """
    share, fall, (power, least) = law[:4], law[4:8], law[8:]
    rest = (2 / np.asarray(rounds))[..., None] ** fall
    sd: Array = np.sqrt((share * sds**2 * rest).sum(-1) ** power + least**2)
    return sd


@cache
def _law() -> Array:
    text = (files("optimizer.orders") / TABLE).read_text(encoding="utf-8")
    rows = (line.split(",") for line in text.splitlines()[1:] if not line.startswith("#"))
    said = {name: float(value) for name, value in rows}
    return np.array([said[name] for name in LAW])
