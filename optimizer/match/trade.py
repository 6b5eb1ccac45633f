"""How many sets of a lot lie within a spread: as measured, and likely truly, as first built."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.estimate.loads import LoadUncertainty
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import Task
from optimizer.match.lot_stacks import WIDER
from optimizer.match.result import Matched
from optimizer.model.plan import Within

#: spreads told, as shares of the spread tolerance
SHARES = (0.25, 0.5, 0.75, 1.0, 1.5, WIDER)
#: sets whose chances are worked out; of more of them evenly spread ones stand for all
ASKED = 24


def sets_within(
    task: Task,
    sets: Sequence[Matched],
    doubts: Sequence[LoadUncertainty],
    beyond_n: Sequence[float],
    tolerance_n: float,
    common_sd: float,
) -> tuple[Within, ...]:
    """Count the sets of a lot within some spreads in N.

    Parameters
    ----------
    sets, doubts : the sets of the plan and the doubt of their loads
    beyond_n : spreads of sets that were dealt and are not in the plan

    Notes
    -----
    The number that is likely truly within a spread is the sum of the chances of the sets.
    """
    spreads = np.array([one.answer.spread_n(task.weight) for one in sets])
    measured = np.concatenate([spreads, np.asarray(beyond_n, dtype=np.float64)])
    asked = np.unique(np.linspace(0, len(sets) - 1, min(len(sets), ASKED)).astype(np.intp))
    weight = task.weight
    off = np.stack(
        [(sets[k].answer.work_n + doubts[k].shift_n - task.target_n) * weight for k in asked]
    )
    cover = np.stack([doubts[k].covariance_n2(common_sd) * np.outer(weight, weight) for k in asked])
    return tuple(
        Within(
            share * tolerance_n,
            int((measured <= share * tolerance_n).sum()),
            len(sets) * float(np.mean(spread_within(off, cover, share * tolerance_n))),
        )
        for share in SHARES
    )
