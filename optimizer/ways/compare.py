"""All ways from here, each played on the same benches; those far behind are left early."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError
from optimizer.estimate.learn import learn
from optimizer.estimate.probability import NINETEEN_OF_TWENTY
from optimizer.frozen import frozen_arrays
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.stack import shim_totals
from optimizer.ways.first import SECOND_LOOK, Look, second_look, ways_from
from optimizer.ways.hidden import Believed
from optimizer.ways.play import play
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Played, Way

#: benches that every way is played on before any is left, and between two looks at them
BATCH = 4
#: a way is left when it is behind the first by so many standard errors and this share
BEHIND_SE, BEHIND_SHARE = 3.0, 0.15


@dataclass(frozen=True)
class WayResult:
    """What some benches say of a way: `plays` one a bench; none where there is no set."""

    way: Way
    plays: tuple[Played, ...]

    def of(self, what: str) -> Array:
        """Return one number of every play (K)."""
        return np.array([getattr(p, what) for p in self.plays], dtype=np.float64)

    @property
    def minutes(self) -> float:
        """Expected minutes."""
        return float(self.of("minutes").mean())

    @property
    def minutes_side(self) -> float:
        """How far to either side the expected minutes may be off, in 95 of 100."""
        return side(self.of("minutes"))

    @property
    def ninth_decile(self) -> float:
        """Minutes within which nine in ten are done."""
        return float(np.percentile(self.of("minutes"), 90))

    @property
    def chance(self) -> float:
        """Chance at the end that the true loads are within tolerance, as far as the gauge sees."""
        return float(self.of("said").mean())


@dataclass(frozen=True)
@frozen_arrays
class Comparison:
    """Ways, the best first: those that reach the chance asked for, by minutes, then the others.

    `look` are the discs that a second look would decide most about, `saved` (K) the minutes it
    saves on each bench before what it costs; `impossible` the ways that lead to no set.
    """

    start: StartingPoint
    stop_at: float
    told: tuple[WayResult, ...]
    look: Look
    saved: Array
    impossible: tuple[Way, ...]
    stopped: str | None

    @property
    def best(self) -> WayResult:
        """The way of fewest minutes."""
        return self.told[0]

    @property
    def saves(self) -> float:
        """Minutes that the second look saves, on average, before what it costs."""
        return float(self.saved.mean()) if len(self.saved) else 0.0

    @property
    def enough(self) -> bool:
        """Whether what was measured is enough: a second look costs more than it saves."""
        return self.saves <= self.look.minutes


def side(values: Array) -> float:
    """How far to either side a mean of values (K) may be off, in 95 of 100."""
    return (
        float(NINETEEN_OF_TWENTY * values.std(ddof=1) / np.sqrt(len(values)))
        if len(values) > 1
        else np.inf
    )


def compare(
    work: Workspace,
    stop_at: float,
    draws: int,
    seed: int = 0,
    limits: Limits | None = None,
    report: Report = quiet,
    workers: int | None = None,
) -> Comparison:
    """Play every way on at most `draws` benches drawn from what is believed.

    Parameters
    ----------
    work : the job as known now
    stop_at : chance at which a set is good enough
    workers : processes; the answer does not depend on them

    Raises
    ------
    CannotBuildError
        when no set of these discs keeps the limits of the job.
    """
    limits = limits or Limits()
    report("matching as measured", 0.0)
    start = StartingPoint.of(work, seed)
    look = second_look(start)
    field = _Field(start, ways_from(start, look), stop_at, seed)
    while field.done < draws and field.alive and not (field.done and limits.over()):
        field.play(min(BATCH, draws - field.done), draws, report, workers, limits)
    return field.result(look, limits.stopped_by)


class _Field:
    """The ways still in the running, and what they have shown."""

    def __init__(
        self, start: StartingPoint, ways: Sequence[Way], stop_at: float, seed: int
    ) -> None:
        totals = shim_totals(start.shims)
        rig = start.task
        learned = learn(rig, start.readings, totals, start.keep_groups)
        self._each = Plays(start, Believed.of(learned), np.array(totals), stop_at, seed)
        self.plays: dict[Way, list[Played]] = {way: [] for way in ways}
        self.alive = list(ways)
        self.impossible: list[Way] = []
        self.done = 0

    def play(
        self, more: int, draws: int, report: Report, workers: int | None, limits: Limits
    ) -> None:
        """Play the ways in the running on some more benches, and leave those far behind."""
        numbers = range(self.done, self.done + more)
        tasks = [(way, number) for number in numbers for way in self.alive]
        rows: dict[Way, list[Played | None]] = {way: [] for way in self.alive}
        for at, (way, played) in enumerate(_spread(self._each, tasks, workers)):
            rows[way].append(played)
            stage = f"{len(self.alive)} ways on {draws} benches"
            report(stage, (self.done + more * (at + 1) / len(tasks)) / draws)
            if limits.stopped and self.done:
                return  # the benches of before are told
        for way, found in rows.items():
            played_all = [p for p in found if p is not None]
            if len(played_all) < len(found):
                self.impossible.append(way)
                self.plays.pop(way)
                self.alive.remove(way)
            else:
                self.plays[way] += played_all
        self.done += more
        self._leave()

    def _leave(self) -> None:
        """Leave ways that are behind the first beyond doubt; the second look stays, to be told."""
        full = {way: np.array([p.minutes for p in self.plays[way]]) for way in self.alive}
        if not full:
            return
        first = min(full.values(), key=lambda minutes: float(minutes.mean()))
        for way, minutes in full.items():
            behind = minutes - first
            se = max(side(behind) / NINETEEN_OF_TWENTY, 1e-9)
            far = behind.mean() > max(BEHIND_SE * se, BEHIND_SHARE * first.mean())
            if far and way.name != SECOND_LOOK and way is not next(iter(self.plays)):
                self.alive.remove(way)

    def result(self, look: Look, stopped: str | None) -> Comparison:
        """Rank the ways."""
        told = [WayResult(way, tuple(plays)) for way, plays in self.plays.items() if plays]
        stop_at = self._each.stop_at
        told.sort(
            key=lambda t: (t.chance < stop_at, t.minutes if t.chance >= stop_at else -t.chance)
        )
        by_name = {t.way.name: t.of("minutes") for t in told}
        again = by_name.get(SECOND_LOOK, np.zeros(0))
        plain = by_name[next(iter(self.plays)).name][: len(again)]
        saved = plain - (again[: len(plain)] - look.minutes)
        start = self._each.start
        return Comparison(start, stop_at, tuple(told), look, saved, tuple(self.impossible), stopped)


@dataclass(frozen=True)
@frozen_arrays
class Plays:
    """Plays a way on the bench of a number."""

    start: StartingPoint
    believed: Believed
    shims_mm: Array
    stop_at: float
    seed: int

    def __call__(self, way: Way, number: int) -> tuple[Way, Played | None]:
        """Return the way with how it went; None where it leads to no set."""
        hidden = self.believed.draw(self.shims_mm, self.seed, number)
        try:
            return way, play(self.start, way, hidden, self.stop_at, self.seed)
        except CannotBuildError:
            return way, None


def _spread(
    each: Plays, tasks: list[tuple[Way, int]], workers: int | None
) -> Iterator[tuple[Way, Played | None]]:
    """Play over the cores, in the order of the tasks."""
    if workers == 1:
        yield from (each(*task) for task in tasks)
        return
    from joblib import Parallel, delayed

    results: Any = Parallel(n_jobs=workers or -1, return_as="generator")(
        delayed(each)(*task) for task in tasks
    )
    yield from results
