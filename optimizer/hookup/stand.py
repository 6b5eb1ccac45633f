"""Where the clutch stands, whatever way leads on from there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.clutch.engagement import Hookup, hookup
from optimizer.clutch.engine import holding
from optimizer.clutch.shoes import Linings
from optimizer.estimate.known import as_built
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.result import Assigned
from optimizer.mechanics.disc import Array
from optimizer.model.running import TorqueCurve


@dataclass(frozen=True)
@frozen_arrays
class Now:
    """Where the clutch stands: pull (S) and loads (S) at the travel, and the stacks if known.

    `load_n` is what the stacks carry as they were put together, which their discs alone need
    not tell. `mass_g` (S) is None where the job gives none, `linings` and `curve` where it says
    nothing of friction or engine; `shared` is the relative doubt of the level of all loads.
    """

    pull_kgm: Array
    load_n: Array
    stacks: Assigned | None
    mass_g: Array | None = None
    linings: Linings | None = None
    curve: TorqueCurve | None = None
    shared: float = 0.0

    @property
    def hookup(self) -> Hookup:
        """Engagement of today's stacks."""
        return hookup(self.pull_kgm, self.load_n)

    def holds_rpm(self, pull_kgm: Array, load_n: Array) -> float | None:
        """Speed from which full throttle is held; None where not known, or never."""
        if self.linings is None or self.curve is None or not np.isfinite(self.linings.gain).all():
            return None
        return holding(pull_kgm, self.linings, load_n, self.curve).rpm


def as_told(task: Task, answer: Assigned, now: Now) -> Assigned:
    """Today's stacks, not taken apart, keep what they carry beside what their discs tell."""
    assert now.stacks is not None
    rest, work, worn = (
        as_built(load, now.stacks.work_n, now.load_n, task.datum)
        for load in (answer.rest_n, answer.work_n, answer.worn_n)
    )
    return replace(answer, rest_n=rest, work_n=work, worn_n=worn)
