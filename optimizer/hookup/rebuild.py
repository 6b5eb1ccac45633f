"""Rebuilding the stacks for another engagement speed: the assignment, pattern by pattern."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import numpy as np

from optimizer.control import Interrupted, Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match import minimise_variance as search
from optimizer.match.bounds import Relaxation, relax
from optimizer.match.layouts import Arrangement, arrangements
from optimizer.match.local_search import Descent
from optimizer.match.nominal_curves import nominal_curves
from optimizer.match.packets import columns
from optimizer.match.result import Assigned, exact, surcharge
from optimizer.match.solve import match
from optimizer.match.subproblem import Subproblem, subproblem
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
    those of least doubt. Where
    discs are bound to places there is one set, the assignment's own best.
    """
    if len(task.use) or task.together:
        with suppress(CannotBuildError, Interrupted):
            yield match(task, limits, seed).answer
        return
    for at, (choice, made, relaxation) in enumerate(_leads(task, today, limits)[:most]):
        if limits.over():
            return
        rng = np.random.default_rng([seed, at])
        descent = Descent(task, made)
        counted = Budget(limits, LOOKS)
        found = search.steady(made, descent, relaxation, rng, counted)
        if found is not None and found.kept:
            yield exact(task, search.stacks_of(made, found.chosen), choice.shims, found.cost)


def _leads(
    task: Task, today: tuple[Pattern, ...] | None, limits: Limits
) -> list[tuple[Arrangement, Subproblem, Relaxation]]:
    """List the patterns to search, those near to today's first."""
    table = columns(task)
    if not len(table.size):
        return []
    nominal = nominal_curves(task, table)
    leads: dict[tuple[Pattern, ...], tuple[Arrangement, Subproblem, Relaxation]] = {}
    for choice in arrangements(task, table)[:MOST_BOUNDED]:
        if choice.patterns in leads or limits.over():
            continue  # with fewer shims already
        made = subproblem(task, table, nominal, choice.patterns, choice.shims)
        relaxation = None if made is None else relax(task, made, task.resolution_n / 2)
        if made is not None and relaxation is not None:
            leads[choice.patterns] = (choice, made, relaxation)

    def order(lead: tuple[Arrangement, Subproblem, Relaxation]) -> tuple[float, ...]:
        choice, made, relaxation = lead
        near = 2 if today is None else min(distance(choice.patterns, today), 2)
        return made.loose, near, relaxation.bound * surcharge(choice.patterns)

    return sorted(leads.values(), key=order)
