"""Minutes of bench work still to come, by how far the loads of a set lie apart.

A set whose loads are near enough to be certified is done. In any other some stacks must be changed,
in several tries each, the more the further apart they are and the less one exchange moves them. How
many tries was found by playing benches in the simulator, so that what is foreseen is what they then
took (`tests/simulator/RESULTS.md`): a choice, no law.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.probability import SEARCHED, spread_within
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.job import Effort

#: tries that a stack out of line takes, and further ones for each reach of a single exchange that
#: the loads lie apart
TRIES, TRIES_PER_REACH = 0.5, 1.0
#: share of the width that is looked at for how near is near enough, the furthest and the step
FURTHEST, STEPS = 1.5, 61
#: minutes that any work takes at least, so that what costs nothing is not done for ever
LEAST = 0.01


@dataclass(frozen=True)
class Outlook:
    """Minutes still to come: a set is done where its believed loads lie `within_n` apart.

    `reach_n` is how far one exchange moves the load of a stack at most.
    """

    effort: Effort
    width_n: float
    within_n: float
    reach_n: float

    def minutes(self, loads_n: Array) -> Array:
        """Minutes to come (...) for believed loads (..., S), in N or weighted alike."""
        load = np.sort(loads_n, axis=-1)
        spread = load[..., -1] - load[..., 0]
        together = load[..., None, :] - load[..., :, None]  # how far above each, the others
        alike = ((together >= 0) & (together <= self.within_n)).sum(-1).max(-1)
        tries = TRIES * (load.shape[-1] - alike) + TRIES_PER_REACH * spread / self.reach_n
        minutes: Array = np.where(spread <= self.within_n, 0.0, tries * self._try)
        return minutes

    @property
    def _try(self) -> float:
        return max(self.effort.exchange + self.effort.reading, LEAST)


def spent(effort: Effort, discs: Index | float, stacks: Index | int) -> Array:
    """Minutes in which discs are moved, or their stacks built anew if quicker, and those read."""
    minutes: Array = np.minimum(discs * effort.exchange, stacks * effort.build) + (
        stacks * effort.reading
    )
    return minutes


def anew(effort: Effort, stacks: int) -> float:
    """Minutes in which all stacks are built and read."""
    return float(spent(effort, np.inf, stacks))


def near_enough(width_n: float, stop_at: float, sd_n: float, shoes: int) -> float:
    """How far apart believed loads may be, evenly spaced, for a chance `stop_at` of the truth."""
    apart = np.linspace(0.0, FURTHEST, STEPS) * width_n
    loads_n = apart[:, None] * np.linspace(0.0, 1.0, shoes)
    sure = spread_within(loads_n, sd_n**2 * np.eye(shoes), width_n, SEARCHED) >= stop_at
    return float(apart[sure].max(initial=0.0))
