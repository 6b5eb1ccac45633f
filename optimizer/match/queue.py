"""The arrangements still to be searched, the most promising next.

An arrangement waits with an optimistic variance that costs nothing to know; when it comes
first it is relaxed, which makes that larger or rules it out, and waits again.
"""

from __future__ import annotations

from dataclasses import replace
from heapq import heapify, heappop, heappush

import numpy as np

from optimizer.control import Limits
from optimizer.match.bounds import Relaxation, relax
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.result import surcharge
from optimizer.match.subproblem import Subproblem, mean_rate, place_mm2, subproblem

#: arrangements whose relaxation is solved at most
MOST_RELAXED = 60


class Queue:
    """Arrangements that press at rest first, then by shims, then by the least variance in N^2.

    A stack that hangs loose at rest rattles, and where it comes to lie is not known.
    """

    def __init__(
        self,
        layouts: Layouts,
        half_window_n: float,
        above_n: float = 0.0,
        everywhere: bool = True,
    ) -> None:
        """Line arrangements up; `half_window_n` as in `relax`, `above_n` as in `subproblem`.

        Stacks are to be alike `everywhere`, else at the working travel alone.
        """
        self._layouts, task = layouts, layouts.task
        self._half_window_n, self._above_n = half_window_n, above_n
        self._everywhere = everywhere
        self._relaxed = 0
        self._last = False, 0
        self._waiting: list[
            tuple[bool, int, float, int, Arrangement, Subproblem | Relaxation | None]
        ] = []
        for at, choice in enumerate(layouts.choices):
            rate = mean_rate(task, layouts.nominal, choice.patterns)
            low = (choice.low_cost + place_mm2(task)) * rate**2
            promise = low * surcharge(choice.patterns)
            self._waiting.append((False, sum(map(len, choice.shims)), promise, at, choice, None))
        heapify(self._waiting)

    def next(self, best_n2: float, limits: Limits) -> Relaxation | None:
        """Take the next lead that could be below `best_n2`, a surcharged variance in N^2.

        None when there is none left, or when it would hang loose or take more shims than an
        answer does that is already worth something (below inf).
        """
        layouts, task = self._layouts, self._layouts.task
        while self._waiting and self._relaxed <= MOST_RELAXED:
            if limits.over() and self._relaxed:
                return None
            loose, shims, promise, at, choice, made = self._waiting[0]
            if promise >= best_n2 or (best_n2 < np.inf and (loose, shims) > self._last):
                return None
            heappop(self._waiting)
            if isinstance(made, Relaxation):
                self._last = loose, shims
                return made
            if made is None:
                made = subproblem(layouts, choice, self._above_n)
                if made is not None and made.loose:
                    heappush(self._waiting, (True, shims, promise, at, choice, made))
                    continue
            if made is not None and not self._everywhere:
                made = replace(made, rows=made.rows[:1])
            self._relaxed += 1
            relaxation = None if made is None else relax(task, made, self._half_window_n)
            if relaxation is not None:
                promise = max(promise, relaxation.bound * surcharge(choice.patterns))
                heappush(self._waiting, (loose, shims, promise, at, choice, relaxation))
        return None

    @property
    def least(self) -> float:
        """Least variance in N^2 of what waits and is no worse at rest or in shims than the last."""
        like = (entry[2] for entry in self._waiting if entry[:2] <= self._last)
        return min(like, default=np.inf)

    @property
    def empty(self) -> bool:
        """Whether every arrangement was taken or ruled out."""
        return not self._waiting
