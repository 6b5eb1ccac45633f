"""Rebuilding the stacks for another engagement speed: the assignment, pattern by pattern."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import numpy as np

from optimizer.control import Interrupted, Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match import minimise_variance as search
from optimizer.match.bounds import relax
from optimizer.match.layouts import Layouts
from optimizer.match.local_search import Descent
from optimizer.match.queue import Relaxed
from optimizer.match.result import Assigned, exact, surcharge
from optimizer.match.solve import match
from optimizer.match.subproblem import subproblem
from optimizer.model.pattern import Pattern

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
    task: Task,
    today: tuple[Pattern, ...] | None,
    limits: Limits,
    seed: int,
    most: int = MOST_SEARCHED,
) -> Iterator[Assigned]:
    """Yield a matched set for each pattern that can carry the targets, of the first `most`.

    Patterns that press at rest come first, of these today's and those one packet away, then
    those of least uncertainty. Where
    discs are bound to places there is one set, the assignment's own best.
    """
    if len(task.use) or task.together:
        with suppress(CannotBuildError, Interrupted):
            yield match(task, limits, seed).answer
        return
    for at, lead in enumerate(_leads(task, today, limits)[:most]):
        if limits.over():
            return
        made, rng = lead.subproblem, np.random.default_rng([seed, at])
        counted = Budget(limits, LOOKS)
        found = search.steady(made, Descent(task, made), lead.relaxation, rng, counted)
        if found is not None and found.kept:
            stacks = search.stacks_of(made, found.chosen)
            yield exact(task, stacks, lead.choice.shims, found.cost)


def _leads(task: Task, today: tuple[Pattern, ...] | None, limits: Limits) -> list[Relaxed]:
    """List the patterns to search, those near to today's first."""
    layouts = Layouts.of(task)
    leads: dict[tuple[Pattern, ...], Relaxed] = {}
    for choice in layouts.choices[:MOST_BOUNDED]:
        if choice.patterns in leads or limits.over():
            continue  # with fewer shims already
        made = subproblem(task, layouts.table, layouts.nominal, choice.patterns, choice.shims)
        relaxation = None if made is None else relax(task, made, task.resolution_n / 2)
        if made is not None and relaxation is not None:
            leads[choice.patterns] = Relaxed(choice, made, relaxation)

    def order(lead: Relaxed) -> tuple[float, ...]:
        patterns = lead.choice.patterns
        near = 2 if today is None else min(distance(patterns, today), 2)
        return lead.subproblem.loose, near, lead.relaxation.bound * surcharge(patterns)

    return sorted(leads.values(), key=order)
