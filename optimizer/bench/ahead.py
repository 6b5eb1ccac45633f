"""Every exchange of what stands, and the minutes that a move takes and leaves to be taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.bench.after import After, after_swaps, drawn, told
from optimizer.bench.outlook import Outlook, anew, near_enough, spent
from optimizer.bench.swaps import SwapPackets, Swaps, single_swaps
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.learn import Learned, Loads
from optimizer.estimate.loads import weighted
from optimizer.estimate.probability import SEARCHED, mean_within, spread_within
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index, limit_load
from optimizer.mechanics.stack import deflection, load_at
from optimizer.model.job import Effort
from optimizer.model.stack import Stack

#: least chance for which something is worth doing
HOPE = 0.1
#: share (%) of the single exchanges that move a stack no further than what counts as their reach,
#: which is no less than this share of the width
REACHED, LEAST_REACH = 90, 0.1


@dataclass(frozen=True)
@frozen_arrays
class Ahead:
    """Single swaps of what stands (N), and what is to come after a move.

    `change_n` (N, S) is what each swap adds to the loads, `touched` (N, S) which stacks it takes
    apart, `noise_n2` (S) the variance of a reading; `outlook` tells the minutes to come.
    """

    learned: Learned
    task: Task
    stacks: tuple[Stack, ...]
    now: Loads
    outlook: Outlook
    swaps: Swaps
    table: SwapPackets
    change_n: Array
    touched: Mask
    noise_n2: Array

    def after(self, rows: Index) -> After:
        """Loads after the swaps of each row (K, m)."""
        return after_swaps(self.learned, self.swaps, self.table, rows, self.change_n, self.now)

    def chances(self, after: After) -> tuple[Array, Array]:
        """Chances (K) that the spread is within, and that the mean is near the target."""
        weight = self.task.weight
        cover = weighted(after.covariance_n2, weight)
        deviation = (after.mean_n - self.task.target_n) * weight
        return (
            spread_within(deviation, cover, self.outlook.width_n, SEARCHED),
            mean_within(deviation, cover, self.task.load_tolerance_n),
        )

    def minutes(
        self, after: After, discs: Index, on_target: Array, anywhere: bool
    ) -> tuple[Array, Array]:
        """Minutes (K) of moves that put discs (K) elsewhere and of reading, and those to come.

        Off the target all is to be built again, unless `anywhere`: the target is out of reach.
        """
        weight, effort = self.task.weight, self.outlook.effort
        root = told(after, self.noise_n2)
        told_n = after.mean_n[:, None] + drawn(len(weight)) @ root.transpose(0, 2, 1)
        to_come = self.outlook.minutes(told_n * weight).mean(-1)
        again = 0.0 if anywhere else (1 - on_target) * anew(effort, len(weight))
        return spent(effort, discs, after.apart.sum(1)), to_come + again

    def nearer(self, then: Loads) -> bool:
        """Whether loads are believed nearer together than those that stand, and not in vain.

        It is in vain where loads believed all alike would hardly be within the width either.
        """
        weight, width = self.task.weight, self.outlook.width_n
        cover = weighted(then.covariance_n2, weight)
        if spread_within(0.0 * weight, cover, width, SEARCHED) < HOPE:
            return False
        after, before = (self.outlook.minutes(each.mean_n * weight) for each in (then, self.now))
        return bool(after < before)


def look_ahead(
    learned: Learned,
    task: Task,
    stacks: tuple[Stack, ...],
    now: Loads,
    width_n: float,
    stop_at: float,
    effort: Effort,
) -> Ahead:
    """List the swaps that the rules allow, and foresee how near is near enough.

    Parameters
    ----------
    learned, task : what is known; the task poses the learned discs
    stacks, now : what stands (S), and its loads
    width_n : the spread asked for
    stop_at : chance at which a set is certified
    effort : minutes of each piece of work
    """
    members = learned.rig.members(stacks)
    worn_n = _worn_n(task, members, now)
    swaps, table = single_swaps(task, members, float(now.mean_n.mean()), worn_n)
    shoes, weight = len(stacks), task.weight
    noise = reading_variance(learned.rig.gauge, now.rate)
    read = After(now.mean_n[None], now.covariance_n2[None], np.ones((1, shoes), dtype=bool))
    root = told(read, noise)[0]
    left = weighted(now.covariance_n2 - root @ root.T, weight)
    unsure = (np.trace(left) - left.sum() / shoes) / (shoes - 1)
    within = near_enough(width_n, stop_at, float(np.sqrt(max(unsure, 0.0))), shoes)
    change = -swaps.change(table.constant_mm, shoes) * now.rate
    touched = swaps.touched(shoes)
    moved = np.abs(change * weight)[touched]
    reach = float(np.percentile(moved, REACHED)) if len(moved) else 0.0
    return Ahead(
        learned,
        task,
        stacks,
        now,
        Outlook(effort, width_n, within, max(reach, LEAST_REACH * width_n)),
        swaps,
        table,
        change,
        touched,
        noise,
    )


def _worn_n(task: Task, members: Index, now: Loads) -> float:
    """Load in N of the hardest pressed stack on a worn drum; 0, no limit, where it is flat there.

    Then no swap makes it worse, and the next move is not to be nothing.
    """
    p = task.packets(members)
    further = deflection(p, now.mean_n) + task.worn_travel_mm - task.travel_mm
    if (further >= deflection(p, limit_load(p).min(-1))).any():
        return 0.0
    return float(load_at(p, further).max())
