"""The set of least variance of a subproblem, by the stacks that could be in it, with a proof.

Level by level: all sets below a variance are looked at, then all below a greater one, until
the best set found lies below the level. It is then the best there is; where the counted
work ends first, no set lies below the last level that was finished.
"""

from __future__ import annotations

import numpy as np

from optimizer.control import Limits, Work
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation
from optimizer.match.minimise_variance import ENOUGH
from optimizer.match.stack_choice import Search, choose
from optimizer.match.stack_list import INSIDE, StackList, list_stacks
from optimizer.match.subproblem import Chosen

#: shares by which the levels lie above the bound
LEVELS = tuple(0.0001 * 2**step for step in range(11))
#: part of the work that one level may take before the next one is tried
PART = 0.5


def least_variance(
    task: Task, relaxation: Relaxation, top: float, units: int, limits: Limits
) -> tuple[Chosen | None, float]:
    """Find the best set below `top` N^2, or that there is none; and a bound on any set, in N^2.

    Parameters
    ----------
    units : counted work that it may take
    """
    best: Chosen | None = None
    below, bound, work = top, relaxation.bound, Work(units)
    window = np.array([INSIDE * row.window_n for row in relaxation.subproblem.rows[1:]])
    for share in LEVELS:
        level = relaxation.bound * (1 + share)
        aim, enough = min(level, below), bound / (1 - ENOUGH)
        if below <= enough or work.left <= 0 or limits.over():
            break
        lent = min(int(PART * units), work.left)
        room = aim - relaxation.bound
        search = Search(window, relaxation.bound, room, below, enough, Work(lent), limits.over)
        found = _set_below(task, relaxation, search)
        if found is not None:
            best, below = found, search.below
        work.spend(lent - max(search.work.left, 0))
        if search.complete:
            bound = min(level, below)
        if below <= level:
            break
    return best, min(bound, below)


def _set_below(task: Task, relaxation: Relaxation, search: Search) -> Chosen | None:
    """Best set that `search` allows."""
    lists: list[StackList] = []
    for group, shoes in enumerate(relaxation.groups):
        stacks = list_stacks(task, relaxation, group, search.room, search.work)
        if stacks is None:
            search.complete = False
            return None
        lists += [stacks] * len(shoes)
    choose(lists, search)
    return search.chosen
