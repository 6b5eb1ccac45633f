"""Relaxations that together cover every set of a frame and leave little open.

The relaxed answer takes a part of a sharp disc to come on target, and sharp discs standing
alone are the dearest by far. With their number given, and how they are spread over the
stacks where they are few, the bound comes near what can be built.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement, count

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.bounds import Group, Relaxation, relax, sharp_alone
from optimizer.match.subproblem import Frame

#: sharp single discs up to which their ways over the stacks are relaxed one by one
FEW_SHARP = 4
#: share above the lowest bound up to which sets are covered
REACH = 0.05


@dataclass(frozen=True)
class Cover:
    """Relaxations, the lowest bound first, that together cover every set below `top` N^2."""

    branches: tuple[Relaxation, ...]
    top: float

    @property
    def bound(self) -> float:
        """Variance in N^2 that no set of the frame goes below."""
        return self.branches[0].bound if self.branches else self.top


def cover(
    task: Task, frame: Frame, relaxation: Relaxation, half_window_n: float, top: float
) -> Cover:
    """Cover the sets of a frame as far as they are of use, below `top` N^2.

    Parameters
    ----------
    relaxation : that of the whole frame
    half_window_n : as in `bound.relax`
    """
    if not frame.alike or len(task.use):
        return Cover((relaxation,) if relaxation.bound < top else (), top)
    found: list[Relaxation] = []
    relaxed = int(np.floor(sharp_alone(task, frame) @ relaxation.share + 1e-6))
    for numbers in (range(relaxed, -1, -1), count(relaxed + 1)):
        for sharp in numbers:  # the bound is convex in the number, and least near the relaxed
            group = Group(tuple(range(task.shoes)), sharp, summed=True)
            branch = relax(task, frame, half_window_n, (group,))
            if branch is None or branch.bound >= top:
                break
            few = sharp <= FEW_SHARP and frame.columns.size.min() == 1
            found += _by_stack(task, frame, half_window_n, sharp, top) if few else [branch]
            top = min([top, *(b.bound * (1 + REACH) for b in found)])
    least_first = sorted(found, key=lambda b: b.bound)
    return Cover(tuple(b for b in least_first if b.bound < top), top)


def _by_stack(
    task: Task, frame: Frame, half_window_n: float, sharp: int, top: float
) -> Iterator[Relaxation]:
    """One relaxation for every way that `sharp` discs can stand alone in the stacks."""
    for each in combinations_with_replacement(range(sharp + 1), task.shoes):
        if sum(each) != sharp or max(each) > frame.patterns[0].singles:
            continue
        groups = tuple(
            Group(tuple(i for i, n in enumerate(each) if n == of), of) for of in sorted(set(each))
        )
        branch = relax(task, frame, half_window_n, groups)
        if branch is not None and branch.bound < top:
            yield branch
