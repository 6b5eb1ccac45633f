"""Readings judged against what is expected, before they count.

The rule: a reading is in doubt when it is more than `FAR` standard deviations from what the
measurements and the readings before it lead to expect. The deviation holds what is not known
of discs, load factor and build, the gauge, and `UNFORESEEN` of the load for what no key of the
job says (seats, friction, a law that is some per cent off). A settled load above the first
push of the same stack, by more than the gauge could err, is in doubt as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import constants

from optimizer.estimate.evidence import UNFORESEEN, Evidence
from optimizer.estimate.learn import foreseen
from optimizer.estimate.problem import Task
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF

#: standard deviations from what is expected beyond which a reading is asked about
FAR = 4.0
#: standard deviations of the gauge by which a settled load may be above the first push
ABOVE = 3.0
_TIMES = {10: "ten", 100: "a hundred", 1000: "a thousand"}


@dataclass(frozen=True)
class ExpectedReading:
    """What a reading should be: load in N and how far it may be off (one sd)."""

    load_n: float
    sd_n: float

    def fits(self, load_n: float) -> bool:
        """Whether a load is within the rule."""
        return abs(load_n - self.load_n) <= FAR * self.sd_n


@dataclass(frozen=True)
class Doubt:
    """A reading that does not fit: what was expected, and the likely slip.

    `offered_n` is what was likely meant, None where nothing suggests itself. `first` is the
    first push that a settled load is above.
    """

    reading: Reading
    expected: ExpectedReading
    slip: str
    offered_n: float | None
    first: Reading | None = None


@dataclass(frozen=True)
class JudgedReadings:
    """The readings of a file, those in doubt marked so, and what to know about them."""

    rows: tuple[Reading, ...]
    warnings: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()


def doubts(
    rig: Task,
    readings: Sequence[Reading],
    judged: range,
    unit_n: float = 1.0,
    keep_groups: bool = False,
) -> dict[int, Doubt]:
    """Judge some of the readings, each by those before it, in order.

    Parameters
    ----------
    readings : in the order they were taken, each knowing its shims; those after `judged`
        only say what other shoes would be expected to show
    judged : numbers of the readings to judge; the others are taken for what they are
    unit_n : newtons of the unit that the user reads
    keep_groups : sub-stacks gauged without a shoe stay together

    Returns
    -------
    the doubts by the number of the reading; one in doubt counts for none after it.

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid in the model.
    """
    if not readings:
        return {}
    e = foreseen(rig, [replace(r, kind="settled") for r in readings], keep_groups)
    before, noise = e.seen_n - e.surprise_n, e.noise_n2
    told = _Told(e)
    found: dict[int, Doubt] = {}
    for row, reading in enumerate(readings[: judged.stop]):
        if row in judged and reading.trust == "usual":
            load = before + told.mean
            sd = np.sqrt(np.diag(told.covariance) + noise + (UNFORESEEN * load) ** 2)
            expected = [ExpectedReading(float(a), float(b)) for a, b in zip(load, sd, strict=True)]
            if doubt := _doubt(readings, found, row, expected, noise[row], unit_n):
                found[row] = doubt
        trust = "doubted" if row in found else reading.trust
        if reading.kind == "settled" and trust != "doubted":
            told.add(row, trust == "insisted")
    return found


class _Told:
    """Readings that count so far, and what they lead to expect of the others.

    `mean` (R) and `covariance` (R, R) are of what the gauge would show less what was expected
    before any reading, the gauge's own error left out.
    """

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self.heard = np.zeros(len(evidence.readings), dtype=bool)
        self.tried = self.heard.copy()
        self._start()

    def _start(self) -> None:
        e = self.evidence
        self.mean = np.zeros(len(e.readings))
        self.covariance = e.slope @ e.prior @ e.slope.T

    def _hear(self, row: int) -> None:
        e, own = self.evidence, self.covariance[row].copy()
        gain = own / (own[row] + e.noise_n2[row])
        self.mean = self.mean + gain * (e.surprise_n[row] - self.mean[row])
        self.covariance -= np.outer(gain, own)

    def add(self, row: int, insisted: bool) -> None:
        """Take a reading for what it is; those insisted on are judged again with each."""
        (self.tried if insisted else self.heard)[row] = True
        if not self.tried.any():
            self._hear(row)
            return
        self._start()
        for one in np.flatnonzero(self.evidence.trial.borne_out(self.heard, self.tried)):
            self._hear(int(one))


def _doubt(
    readings: Sequence[Reading],
    found: dict[int, Doubt],
    row: int,
    expected: Sequence[ExpectedReading],
    noise_n2: float,
    unit_n: float,
) -> Doubt | None:
    reading, own = readings[row], expected[row]
    if own.fits(reading.load_n):
        first = _first_push(readings, found, row)
        if first is None or reading.load_n - first.load_n <= ABOVE * np.sqrt(2 * noise_n2):
            return None
        return Doubt(reading, own, "above its first push", first.load_n, first)
    for value, slip in _likely(reading.load_n, unit_n):
        if own.fits(value):
            return Doubt(reading, own, slip, value)
    for other, band in zip(readings, expected, strict=True):
        near = other.round == reading.round and other.shoe not in (None, reading.shoe)
        if near and band.fits(reading.load_n):
            return Doubt(reading, own, f"it would fit shoe {other.shoe}", None)
    return Doubt(reading, own, "", None)


def _first_push(readings: Sequence[Reading], found: dict[int, Doubt], row: int) -> Reading | None:
    """The first push that goes with a settled reading, if it was taken before and is trusted."""
    own = readings[row]
    if own.kind != "settled":
        return None
    for before in range(row - 1, -1, -1):
        first = readings[before]
        same = (first.round, first.shoe, first.packs) == (own.round, own.shoe, own.packs)
        if same and first.kind == "first" and before not in found and first.trust == "usual":
            return first
    return None


def _likely(load_n: float, unit_n: float) -> Iterator[tuple[float, str]]:
    """What a load may have been meant to be: decimal point, unit, digits swapped."""
    for times, word in _TIMES.items():
        yield load_n / times, f"{word} times too high"
        yield load_n * times, f"{word} times too low"
    pound, kilogram = N_PER_LBF, constants.g
    names = {1.0: "N", pound: "lbf", kilogram: "kgf"}
    for other, name in names.items():
        if other != unit_n:
            meant = float(f"{load_n / unit_n**2 * other:.4g}") * unit_n
            yield meant, f"that would be right in {name}"
    digits = f"{load_n / unit_n:.8g}"
    for at in range(len(digits) - 1):
        a, b = digits[at], digits[at + 1]
        if a != b and a.isdigit() and b.isdigit():
            yield float(digits[:at] + b + a + digits[at + 2 :]) * unit_n, "two digits swapped"
