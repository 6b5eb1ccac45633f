"""The shoes as dots on one scale of load, with the window that is asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.model.job import Units
from optimizer.page.bench import Bench

#: room in drawing units, its margin, and the room of one shoe
WIDTH, MARGIN, ROW = 320.0, 16.0, 46.0
#: half width of a bar in standard deviations: 19 of 20
REACH = 1.96


@dataclass(frozen=True)
class Dot:
    """One shoe: its load as believed, its doubt, and how it reads."""

    shoe: int
    x: float
    low: float
    high: float
    y: float
    words: str
    read: bool


@dataclass(frozen=True)
class Dots:
    """Everything the template needs: `window` is where all loads agree, around their mean."""

    dots: tuple[Dot, ...]
    window: tuple[float, float]
    target: float | None
    target_words: str
    height: float


def dots(bench: Bench, units: Units) -> Dots | None:
    """Lay out the loads that are believed after the advice."""
    if bench.done is None:
        return None
    now, job = bench.done.advice.loads, bench.session.work.job
    weight = bench.done.task.weight
    mean = now.mean_n * weight
    sd = np.sqrt(np.diag(now.covariance_n2)) * weight
    width = job.target.spread_tolerance_n
    target = float((bench.done.task.target_n * weight).mean())
    middle = float((mean.max() + mean.min()) / 2)
    ends = [*(mean - REACH * sd), *(mean + REACH * sd), middle - width / 2, middle + width / 2]
    low, high = float(min(ends)), float(max(ends))

    def x(load: float) -> float:
        return MARGIN + (WIDTH - 2 * MARGIN) * (load - low) / (high - low)

    found = tuple(
        Dot(
            shoe,
            x(float(mean[shoe - 1])),
            x(float(mean[shoe - 1] - REACH * sd[shoe - 1])),
            x(float(mean[shoe - 1] + REACH * sd[shoe - 1])),
            ROW * shoe - 8.0,
            f"{text.load(now.mean_n[shoe - 1], units)} ± "
            f"{text.load(float(np.sqrt(now.covariance_n2[shoe - 1, shoe - 1])), units).split()[0]}",
            shoe not in bench.done.unread,
        )
        for shoe in range(1, len(mean) + 1)
    )
    inside = low <= target <= high
    return Dots(
        found,
        (x(middle - width / 2), x(middle + width / 2)),
        x(target) if inside else None,
        text.load(target, units),
        ROW * len(mean) + 8.0,
    )
