"""Do the readings fit what is assumed? Suspects, gauge repeatability, scatter, seating.

The surprises of all readings have a known covariance if every assumption holds. Their
chi-square says whether they do; one more unknown at a time (a disc, a seat, a build, the
level of all) says which of them would explain most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from optimizer.estimate.evidence import Evidence
from optimizer.estimate.learn import Learned
from optimizer.mechanics.disc import Array
from optimizer.model.readings import Reading

#: standard deviations beyond which readings are suspect: where nothing is wrong 2 to 6 bench
#: sessions in a hundred name one, over discs and instruments (simulated, 100 sessions a row)
SUSPECT = 3.0
#: z by which a suspect must lead, to be named rather than the others
LEAD = 0.5
#: probability below which readings contradict what is assumed
CONTRADICTION = 1e-3
#: factors on the scatter of edges that are tried, and the gain in log likelihood that tells
SCATTER_FACTORS = np.geomspace(1 / 16, 16, 65)
TELLS = 1.92
OFF = 2.0


@dataclass(frozen=True)
class Suspect:
    """What would explain the readings: `kind` is disc, seat, build or level (of all stacks).

    `z` is how many standard deviations it is off; `rivals` what would explain them as well.
    """

    kind: str
    name: str
    z: float
    rivals: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """How the readings fit together.

    `fit` is the probability of surprises as great as these; `contradiction` when they are
    beyond belief. `repeatability_n` is the sd of readings repeated without a rebuild (None
    with no repeats), `scatter_factor` the likeliest factor on the assumed scatter of edges
    and `scatter_told` whether the readings tell it from 1; `seating_drop` the share by which
    the settled reading of each shoe is below its first push.
    """

    fit: float
    contradiction: bool
    suspects: tuple[Suspect, ...]
    repeatability_n: float | None
    scatter_factor: float | None
    scatter_told: bool
    seating_drop: dict[int, float]


def judge(learned: Learned, readings: Sequence[Reading]) -> Verdict:
    """Judge all readings, first pushes included."""
    e = learned.evidence
    fit = 1.0
    suspects: tuple[Suspect, ...] = ()
    if e.count:
        inverse = np.asarray(np.linalg.inv(e.expected), dtype=np.float64)
        fit = _fit(e.surprise_n, inverse, e.count)
        suspects = _suspects(e, inverse, learned.rig.in_clutch)
    factor, told = _scatter(learned, e)
    return Verdict(
        fit,
        fit < CONTRADICTION,
        suspects,
        _repeatability(e),
        factor,
        told,
        _seating_drop(readings),
    )


def _fit(surprise: Array, inverse: Array, count: int) -> float:
    from scipy.special import gammaincc

    square = float(surprise @ inverse @ surprise)
    return float(gammaincc(count / 2, square / 2))


def _suspects(e: Evidence, inverse: Array, in_clutch: bool) -> tuple[Suspect, ...]:
    """Score tests of one more unknown each, worst first; those told apart by nothing together.

    A disc, a seat, and a build act on different readings, so rounds of swaps tell them apart.
    A tester beside the clutch has one seat for all stacks: there none is suspect.
    """
    candidates: dict[tuple[str, str], Array] = {}
    stack_of: dict[str, Array] = {}
    for row, reading in enumerate(e.readings):
        if not e.heard[row]:
            continue
        for packet in reading.packs:
            for disc in packet:
                stack_of.setdefault(disc, np.zeros(len(e.readings)))[row] = 1.0
        if reading.shoe is not None and in_clutch:
            seat = ("seat", f"shoe {reading.shoe}")
            candidates.setdefault(seat, np.zeros(len(e.readings)))[row] = 1.0
        place = f"shoe {reading.shoe}" if reading.shoe else "a sub-stack"
        when = f"round {reading.round}" if reading.round > 0 else "an earlier session"
        name = f"{when}, {place}"
        candidates.setdefault(("build", name), np.zeros(len(e.readings)))[row] = 1.0
    candidates["level", "all stacks"] = e.heard.astype(np.float64)
    candidates |= {("disc", disc): effect for disc, effect in stack_of.items()}
    scored = []
    for (kind, name), effect in candidates.items():
        information = float(effect @ inverse @ effect)
        scored.append((float(effect @ inverse @ e.surprise_n) / np.sqrt(information), kind, name))
    scored.sort(key=lambda entry: -abs(entry[0]))
    if not scored or abs(scored[0][0]) <= SUSPECT:
        return ()
    worst, kind, name = scored[0]
    near = [entry for entry in scored[1:] if abs(entry[0]) > abs(worst) - LEAD]
    return (Suspect(kind, name, worst, tuple(f"{k} {n}" for _, k, n in near)),)


def _repeatability(e: Evidence) -> float | None:
    """Pooled sd in N of readings of one build under one travel."""
    square, degrees, _ = e.repeats
    return float(np.sqrt(square / degrees)) if degrees else None


def _scatter(learned: Learned, e: Evidence) -> tuple[float | None, bool]:
    """Likeliest factor on the assumed scatter of edges, once a stack has been built twice.

    It is told from 1 when it is off by a factor of two or more and the log likelihood
    gains 1.92 (95 % for one degree of freedom).
    """
    durable = len(learned.shift)
    builds = len(learned.build_mm)
    if builds <= len({reading.shoe for reading in e.readings}):
        return None, False
    by_build = slice(durable, durable + builds)
    of_builds = e.slope[:, by_build] @ e.prior[by_build, by_build] @ e.slope[:, by_build].T
    of_others = e.expected - of_builds
    likelihood = np.array(
        [
            _log_likelihood(e.surprise_n, of_others + k**2 * of_builds)
            for k in (1.0, *SCATTER_FACTORS)
        ]
    )
    best = int(likelihood[1:].argmax())
    factor = float(SCATTER_FACTORS[best])
    off = max(factor, 1 / factor) >= OFF
    return factor, bool(off and likelihood[1 + best] - likelihood[0] > TELLS)


def _log_likelihood(surprise: Array, covariance: Array) -> float:
    logarithm = np.linalg.slogdet(covariance)[1]
    return float(-0.5 * (logarithm + surprise @ np.linalg.solve(covariance, surprise)))


def _seating_drop(readings: Sequence[Reading]) -> dict[int, float]:
    """Mean share (first - settled) / first of each shoe, first pushes beside settled ones."""
    drops: dict[int, list[float]] = {}
    readings = [r for r in readings if r.trust == "usual"]
    for first in readings:
        if first.kind != "first" or first.shoe is None:
            continue
        settled = [
            r.load_n
            for r in readings
            if r.kind == "settled"
            and (r.round, r.shoe, r.packs) == (first.round, first.shoe, first.packs)
        ]
        if settled:
            drops.setdefault(first.shoe, []).append(1 - fmean(settled) / first.load_n)
    return {shoe: fmean(values) for shoe, values in sorted(drops.items())}
