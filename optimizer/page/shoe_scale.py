"""Shoes as dots on one scale, each with its doubt, and the window that is asked."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.estimate.probability import NINETEEN_OF_TWENTY
from optimizer.mechanics.disc import Array
from optimizer.model.job import Units
from optimizer.page.bench import BenchState
from optimizer.report.chart import Axis

#: room in drawing units, its margin, and the room of one shoe
WIDTH, MARGIN, ROW = 320.0, 16.0, 46.0


@dataclass(frozen=True)
class ShoeDot:
    """One shoe: where it lies, between which ends in 19 of 20, and how it reads."""

    shoe: int
    x: float
    low: float
    high: float
    y: float
    words: str
    read: bool


@dataclass(frozen=True)
class ShoeScale:
    """Everything the template needs: `window` is what is asked, `said` that in words."""

    dots: tuple[ShoeDot, ...]
    window: tuple[float, float]
    said: str
    height: float


def on_scale(
    at: Array,
    sd: Array,
    words: Sequence[str],
    window: tuple[float, float],
    said: str,
    unread: Collection[int] = (),
) -> ShoeScale:
    """Lay out what shoes (S) do, with its standard deviations (S), on a scale that holds all."""
    low, high = at - NINETEEN_OF_TWENTY * sd, at + NINETEEN_OF_TWENTY * sd
    ends = float(min(*low, *window)), float(max(*high, *window))
    x = Axis(*ends, MARGIN, WIDTH - MARGIN).at
    dots = tuple(
        ShoeDot(
            shoe, x(at[k]), x(low[k]), x(high[k]), ROW * shoe - 8.0, words[k], shoe not in unread
        )
        for k, shoe in enumerate(range(1, len(at) + 1))
    )
    return ShoeScale(dots, (x(window[0]), x(window[1])), said, ROW * len(at) + 8.0)


def loads_on_scale(bench: BenchState, units: Units) -> ShoeScale | None:
    """Lay out the loads that are believed after the advice, and the band around their middle."""
    if bench.done is None:
        return None
    now, weight = bench.done.advice.loads, bench.done.task.weight
    mean, sd = now.mean_n * weight, np.sqrt(np.diag(now.covariance_n2))
    half = bench.session.work.job.target.spread_tolerance_n / 2
    middle = float((mean.max() + mean.min()) / 2)
    unread = bench.done.unread
    words = [
        f"Shoe {shoe}: {text.load(float(load), units)} ± "
        f"{text.load(float(off), units).split()[0]}{', not read' * (shoe in unread)}"
        for shoe, (load, off) in enumerate(zip(now.mean_n, sd, strict=True), 1)
    ]
    target = float((bench.done.task.target_n * weight).mean())
    said = f"band {text.load(2 * half, units)}, target {text.load(target, units)}"
    return on_scale(mean, sd * weight, words, (middle - half, middle + half), said, unread)
