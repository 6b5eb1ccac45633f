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
from optimizer.match.branch_bounds import BranchBounds
from optimizer.match.minimise_variance import ENOUGH, Found
from optimizer.match.stack_choice import Search, choose
from optimizer.match.stack_list import INSIDE, StackList, list_stacks
from optimizer.match.subproblem import Subproblem

#: shares by which the levels lie above the bound
LEVELS = tuple(0.0001 * 2**step for step in range(11))
#: part of the work that one level may take before the next one is tried
PART = 0.5


def least_variance(
    task: Task,
    subproblem: Subproblem,
    bounds: BranchBounds,
    best: Found | None,
    units: int,
    limits: Limits,
) -> tuple[Found | None, float]:
    """Find a set better than `best`, or that there is none; and a bound on any set, in N^2.

    Parameters
    ----------
    units : counted work that it may take
    """
    below = np.inf if best is None else best.cost
    bound, work, whole = bounds.bound, Work(units), True
    window = np.array([INSIDE * row.window_n for row in subproblem.rows[1:]])
    for share in LEVELS:
        level = bounds.bound * (1 + share)
        for branch in reversed(bounds.branches):  # the least room, and so work, first
            aim = min(level, below, bounds.top)
            if branch.bound >= aim:
                continue
            enough = bound / (1 - ENOUGH)
            if below <= enough or work.left <= 0 or limits.over():
                return best, min(bound, below)
            lent = min(int(PART * units), work.left)
            room = aim - branch.bound
            search = Search(window, branch.bound, room, below, enough, Work(lent), limits.over)
            found = _set_below(task, subproblem, branch, search)
            if found is not None:
                best, below = found, found.cost
            work.spend(lent - max(search.work.left, 0))
            whole &= search.complete
        if whole:
            bound = min(level, below, bounds.top)
        if below <= level:
            break
    return best, min(bound, below)


def _set_below(
    task: Task, subproblem: Subproblem, branch: Relaxation, search: Search
) -> Found | None:
    """Best set of a branch that `search` allows."""
    lists: list[StackList] = []
    for group in range(len(branch.groups)):
        stacks = list_stacks(task, subproblem, branch, group, search.room, search.work)
        if stacks is None:
            search.complete = False
            return None
        lists.append(stacks)
    shoes = [(kind, shoe) for kind, group in enumerate(branch.groups) for shoe in group.shoes]
    kinds = [kind for kind, _ in shoes]
    choose(lists, kinds, search)
    if search.chosen is None:
        return None
    chosen = {
        shoe: lists[kind].columns[at] for (kind, shoe), at in zip(shoes, search.chosen, strict=True)
    }
    return Found(tuple(chosen[i] for i in range(task.shoes)), search.below, True)
