"""The arrangements still to be searched, the most promising next.

An arrangement waits with an optimistic variance that costs nothing to know; when it comes
first it is relaxed, which makes that larger or rules it out, and waits again.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapify, heappop, heappush

import numpy as np

from optimizer.assignment.bound import Relaxation, relax
from optimizer.assignment.candidates import Arrangement
from optimizer.assignment.columns import Columns
from optimizer.assignment.frame import Frame, frame, mean_rate
from optimizer.assignment.levels import Levels
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.assignment.result import surcharge

#: arrangements whose relaxation is solved at most
MOST_RELAXED = 60


@dataclass(frozen=True)
class Lead:
    """A frame with its relaxation, ready to be searched."""

    choice: Arrangement
    frame: Frame
    relaxation: Relaxation


class Queue:
    """Arrangements by number of shims, then by the least variance in N^2 they could give."""

    def __init__(
        self,
        task: Task,
        table: Columns,
        level: Levels,
        choices: list[Arrangement],
        half_window_n: float,
    ) -> None:
        """Line up `choices`; `half_window_n` as in `bound.relax`."""
        self._parts = task, table, level
        self._half_window_n = half_window_n
        self._relaxed = 0
        self._shims = 0
        self._waiting: list[tuple[int, float, int, Arrangement, Lead | None]] = []
        for at, choice in enumerate(choices):
            low = choice.low_cost * mean_rate(task, level, choice.patterns) ** 2
            promise = low * surcharge(choice.patterns)
            self._waiting.append((sum(map(len, choice.shims)), promise, at, choice, None))
        heapify(self._waiting)

    def next(self, worth: float, limits: Limits) -> Lead | None:
        """Take the next lead that could be below `worth`, a surcharged variance in N^2.

        None when there is none left, or when it would take more shims than an answer has
        that is already worth something (below inf).
        """
        task, table, level = self._parts
        while self._waiting and self._relaxed <= MOST_RELAXED:
            if limits.over() and self._relaxed:
                return None
            shims, promise, at, choice, lead = self._waiting[0]
            if promise >= worth or (worth < np.inf and shims > self._shims):
                return None
            heappop(self._waiting)
            if lead is not None:
                self._shims = shims
                return lead
            made = frame(task, table, level, choice.patterns, choice.shims)
            self._relaxed += 1
            relaxation = None if made is None else relax(task, made, self._half_window_n)
            if made is not None and relaxation is not None:
                promise = max(promise, relaxation.bound * surcharge(choice.patterns))
                lead = Lead(choice, made, relaxation)
                heappush(self._waiting, (shims, promise, at, choice, lead))
        return None

    @property
    def least(self) -> float:
        """Least variance in N^2 of what still waits with no more shims than the last lead."""
        return min((p for shims, p, *_ in self._waiting if shims <= self._shims), default=np.inf)

    @property
    def empty(self) -> bool:
        """Whether every arrangement was taken or ruled out."""
        return not self._waiting
