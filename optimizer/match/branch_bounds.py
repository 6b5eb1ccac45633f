"""Relaxations that together cover every set of a subproblem and leave little open.

The relaxed answer takes a part of a sharp disc to come on target, and sharp discs standing
alone are the dearest by far. With their number given the bound comes near what can be built.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.bounds import Group, Relaxation, relax, sharp_alone
from optimizer.match.subproblem import Subproblem

#: share above the lowest bound up to which sets are covered
REACH = 0.05


@dataclass(frozen=True)
class BranchBounds:
    """Relaxations, the lowest bound first, that together cover every set below `top` N^2."""

    branches: tuple[Relaxation, ...]
    top: float

    @property
    def bound(self) -> float:
        """Variance in N^2 that no set of the subproblem goes below."""
        return self.branches[0].bound if self.branches else self.top


def branch_bounds(
    task: Task, subproblem: Subproblem, relaxation: Relaxation, half_window_n: float, top: float
) -> BranchBounds:
    """Cover the sets of a subproblem as far as they are of use, below `top` N^2.

    Parameters
    ----------
    relaxation : that of the whole subproblem
    half_window_n : as in `bound.relax`
    """
    if not subproblem.alike or len(task.use):
        return BranchBounds((relaxation,) if relaxation.bound < top else (), top)
    found: list[Relaxation] = []
    relaxed = int(np.floor(sharp_alone(task, subproblem) @ relaxation.share + 1e-6))
    for numbers in (range(relaxed, -1, -1), count(relaxed + 1)):
        for sharp in numbers:  # the bound is convex in the number, and least near the relaxed
            group = Group(tuple(range(task.shoes)), sharp)
            branch = relax(task, subproblem, half_window_n, (group,))
            if branch is None or branch.bound >= top:
                break
            found.append(branch)
            top = min([top, *(b.bound * (1 + REACH) for b in found)])
    least_first = sorted(found, key=lambda b: b.bound)
    return BranchBounds(tuple(b for b in least_first if b.bound < top), top)
