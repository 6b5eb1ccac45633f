"""How fast a person works, by the times that the bench page saw."""

from __future__ import annotations

from dataclasses import replace
from math import exp, isfinite, log
from statistics import median

from optimizer.io.minutes import KINDS, read_minutes
from optimizer.model.job import Effort, Job

#: a gap this many times longer or shorter than usual is a pause, or typing from paper; a choice
PLAUSIBLE = 5.0
#: the usual minutes count as so many gaps seen; a choice
PSEUDO = 4.0


def paced(job: Job) -> Effort:
    """Return the minutes of a job, learned from the gaps seen where the job does not set them.

    The median of the plausible gaps and the usual minutes, each by its count, in the ln: a person
    is so many times slower than another, and no gap is negative.
    """
    took, effort = read_minutes(job.path).took, job.effort
    learned: dict[str, int] = {}
    for kind in KINDS:
        usual = float(getattr(effort, kind))
        gaps = [
            gap
            for gap in took.get(kind, ())
            if isfinite(gap) and usual / PLAUSIBLE <= gap <= usual * PLAUSIBLE
        ]
        if kind in effort.written or not gaps or usual <= 0:
            continue
        told = PSEUDO * log(usual) + len(gaps) * log(median(gaps))
        effort = replace(effort, **{kind: exp(told / (PSEUDO + len(gaps)))})  # type: ignore[arg-type]
        learned[kind] = len(gaps)
    return replace(effort, learned=tuple(learned.items()))
