"""Ways from the bag to another engagement speed: shims or one packet changed, or all built anew."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from optimizer.control import Interrupted, Limits
from optimizer.errors import CannotBuildError, MechanicsError
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation, relax
from optimizer.match.layouts import Layouts, shims_of
from optimizer.match.local_search import Descent
from optimizer.match.minimise_variance import least_by_descents
from optimizer.match.packets import candidate_members, stacks_of
from optimizer.match.result import Assigned, exact, surcharge
from optimizer.match.solve import match
from optimizer.match.subproblem import subproblem
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import loads_below_flat
from optimizer.model.pattern import Pattern
from optimizer.model.stack import Shims, shim_totals

#: shim choices and packets followed up, nearest to the target first
MOST_SHIMMED = 3
SIZES = {1: "single", 2: "pair", 3: "triple"}


def shim_changes(task: Task, today: Assigned) -> Iterator[tuple[str, Assigned]]:
    """Today's stacks on other shims: the choices nearest to the target loads."""
    if not task.datum.has_room:
        return
    on_hand = [choice for choice in shims_of(task) if choice != today.shims]
    if not on_hand:
        return
    off = _off(loads_on_shims(task, today, on_hand), task.target_n).max(1)
    for at in np.argsort(off, kind="stable")[:MOST_SHIMMED]:
        if np.isfinite(off[at]):
            yield from _tried(task, "other shims, stacks as they are", today.stacks, on_hand[at])


def loads_on_shims(task: Task, today: Assigned, choices: Sequence[Shims]) -> Array:
    """Load in N (C, S) of today's stacks on each choice of shims; nan where one would be flat."""
    p = task.packets(today.stacks)
    many = p.take(np.tile(np.arange(task.shoes), (len(choices), 1)))
    shims = np.array([shim_totals(choice) for choice in choices])
    return loads_below_flat(many, task.datum, task.travel_mm, shims)


def packet_changes(task: Task, today: Assigned) -> Iterator[tuple[str, Assigned]]:
    """Today's stacks with one packet taken away from each, or one of spare discs added."""
    spare = np.setdiff1d(task.usable, today.stacks)
    added = candidate_members(replace(task, usable=spare)) if len(spare) else None
    bound = np.concatenate([task.use, *task.together])
    stacks = [stack[(stack >= 0).any(1)] for stack in today.stacks]
    shimmed = shims_of(task)
    for size, name in SIZES.items():
        less = [
            [
                np.delete(stack, k, axis=0)
                for k, packet in enumerate(stack)
                if (packet >= 0).sum() == size
                and len(stack) > 1
                and not np.isin(packet, bound).any()
            ]
            for stack in stacks
        ]
        yield from _best(task, f"a {name} taken away from each stack", less, shimmed)
        if added is None:
            continue
        rows = added[(added >= 0).sum(1) == size]
        more = [[np.append(stack, row[None], axis=0) for row in rows] for stack in stacks]
        yield from _best(task, f"a {name} added to each stack", more, shimmed)


def _off(load_n: Array, target_n: Array | float) -> Array:
    """Relative distance from target loads; inf where flat."""
    return np.nan_to_num(np.abs(load_n / target_n - 1), nan=np.inf)


def _best(
    task: Task, what: str, options: list[list[Index]], shimmed: list[Shims]
) -> Iterator[tuple[str, Assigned]]:
    """Choose one option (a whole stack) for each shoe, and shims, nearest to the targets."""
    window = task.rules.discs or (1, 10**6)
    options = [
        [stack for stack in each if window[0] <= (stack >= 0).sum() <= window[1]]
        for each in options
    ]
    if not all(options):
        return
    members = [np.stack(each) for each in options]
    for choice in _promising(task, [m[len(m) // 2][None] for m in members], shimmed):
        chosen = _choose(
            [
                (_off_shoe(task, shoe, each, np.array([sum(choice[shoe])])), each)
                for shoe, each in enumerate(members)
            ]
        )
        if chosen is not None:
            yield from _tried(task, what, chosen, choice)


def _promising(task: Task, middle: list[Index], shimmed: list[Shims]) -> list[Shims]:
    """Return the shim choices with which the middle option of each shoe comes nearest."""
    shims = np.array([shim_totals(choice) for choice in shimmed])
    off = np.max(
        [
            _off_shoe(task, shoe, np.repeat(row, len(shimmed), axis=0), shims[:, shoe])
            for shoe, row in enumerate(middle)
        ],
        axis=0,
    )
    return [shimmed[at] for at in np.argsort(off, kind="stable")[:MOST_SHIMMED]]


def _off_shoe(task: Task, shoe: int, members: Index, shims_mm: Array) -> Array:
    """Relative distance (C) from its target load of candidate stacks (C, P, 3) of one shoe."""
    p = task.packets(members)
    load = loads_below_flat(p, task.datum_of(shoe), float(task.travel_mm[shoe]), shims_mm)
    return _off(load, float(task.target_n[shoe]))


def _choose(ranked: list[tuple[Array, Index]]) -> Index | None:
    """Take the nearest option of each shoe whose discs no other shoe has taken."""
    taken: set[int] = set()
    chosen = []
    for off, options in ranked:
        for at in np.argsort(off, kind="stable"):
            own = set(options[at][options[at] >= 0].tolist())
            if np.isfinite(off[at]) and taken.isdisjoint(own):
                taken |= own
                chosen.append(options[at])
                break
        else:
            return None
    return stacks_of(chosen)


def _tried(task: Task, what: str, stacks: Index, shims: Shims) -> Iterator[tuple[str, Assigned]]:
    try:
        yield what, exact(task, stacks, shims, 0.0)
    except MechanicsError:
        return  # solid on a worn drum: no way


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
        found = least_by_descents(Descent(task, made), lead, rng, Budget(limits, LOOKS))
        if found is not None:
            yield exact(task, made.stacks(found), made.shims, made.variance_n2(found))


def _leads(task: Task, today: tuple[Pattern, ...] | None, limits: Limits) -> list[Relaxation]:
    """List the patterns to search, those near to today's first."""
    layouts = Layouts.of(task)
    leads: dict[tuple[Pattern, ...], Relaxation] = {}
    for choice in layouts.choices[:MOST_BOUNDED]:
        if choice.patterns in leads or limits.over():
            continue  # with fewer shims already
        made = subproblem(layouts, choice)
        relaxation = None if made is None else relax(task, made, task.resolution_n / 2)
        if relaxation is not None:
            leads[choice.patterns] = relaxation

    def order(lead: Relaxation) -> tuple[float, ...]:
        patterns = lead.subproblem.patterns
        near = 2 if today is None else min(distance(patterns, today), 2)
        return lead.subproblem.loose, near, lead.bound * surcharge(patterns)

    return sorted(leads.values(), key=order)
