"""Rebuilding the stacks for another engagement speed: the assignment, pattern by pattern."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.arrangement.pattern import Pattern
from optimizer.assignment import search
from optimizer.assignment.bound import Relaxation, relax
from optimizer.assignment.candidates import Arrangement, arrangements
from optimizer.assignment.columns import columns
from optimizer.assignment.descent import Descent
from optimizer.assignment.frame import Frame, frame
from optimizer.assignment.levels import levels
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.assignment.result import Assigned, exact, surcharge

#: patterns bounded, and those then searched
MOST_BOUNDED = 40
MOST_SEARCHED = 5
#: steps of descent given to each pattern
LOOKS = 160


class Budget(Limits):
    """A running limit that is also over after so many looks at it.

    Ways are compared, not perfected: a counted part of the search's work is enough, and the
    same on any machine.
    """

    def __init__(self, outer: Limits, looks: int) -> None:
        """Count `looks` within the limit `outer`."""
        super().__init__(outer.seconds)
        self._outer, self._looks = outer, looks

    def over(self) -> bool:
        """Whether to stop now."""
        self._looks -= 1
        return self._looks < 0 or self._outer.over()


def distance(patterns: tuple[Pattern, ...], today: tuple[Pattern, ...]) -> int:
    """Packets that come and go between two patterns, in the stack where most do."""
    return max(
        sum(abs(a - b) for a, b in zip(new.counts, old.counts, strict=True))
        for new, old in zip(patterns, today, strict=True)
    )


def rebuilds(
    task: Task, today: tuple[Pattern, ...] | None, limits: Limits, seed: int
) -> Iterator[Assigned]:
    """Yield a matched set for each pattern that can carry the targets.

    Today's pattern and those one packet away come first, then those of least doubt.
    """
    table = columns(task)
    if not len(table.size):
        return
    level = levels(task, table)
    leads: dict[tuple[Pattern, ...], tuple[float, Arrangement, Frame, Relaxation]] = {}
    for choice in arrangements(task, table)[:MOST_BOUNDED]:
        if choice.patterns in leads or limits.over():
            continue  # with fewer shims already
        made = frame(task, table, level, choice.patterns, choice.shims)
        relaxation = None if made is None else relax(task, made, task.resolution_n / 2)
        if made is not None and relaxation is not None:
            promise = relaxation.bound * surcharge(choice.patterns)
            near = 2 if today is None else min(distance(choice.patterns, today), 2)
            leads[choice.patterns] = (promise + near * 1e12, choice, made, relaxation)
    ordered = sorted(leads.values(), key=lambda lead: lead[0])[:MOST_SEARCHED]
    for at, (_, choice, made, relaxation) in enumerate(ordered):
        if limits.over():
            return
        rng = np.random.default_rng([seed, at])
        found = _search(task, made, relaxation, rng, limits, seed)
        if found is not None and found.kept:
            yield exact(task, search.stacks_of(made, found.chosen), choice.shims, found.cost)


def _search(
    task: Task,
    made: Frame,
    relaxation: Relaxation,
    rng: np.random.Generator,
    limits: Limits,
    seed: int,
) -> search.Found | None:
    """Descend to a match of little doubt; with discs bound to places ask the solver."""
    if len(task.use) or task.together:
        return search.polish(task, made, None, relaxation, limits, seed)[0]
    descent = Descent(task, made)
    limits = Budget(limits, LOOKS)
    found = search.steady(made, descent, relaxation, rng, limits)
    return found or search.match(task, made, descent, rng, limits)
