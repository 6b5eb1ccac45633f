"""The best set of what is known, quickly: in the arrangement that stands, by descents alone.

A way is played on many benches, each with rebuilds, and how little doubt a set carries matters
less once it is read; where that finds none, the whole search is asked.
"""

from __future__ import annotations

from dataclasses import replace

from optimizer.control import Limits, quiet
from optimizer.estimate.problem import Task
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.result import Assigned, exact
from optimizer.match.solve import search_all, soon_found
from optimizer.model.pattern import Pattern
from optimizer.model.stack import Shims, Stack, StackSet


def rebuilt(task: Task, stacks: tuple[Stack, ...], shims: Shims, seed: int) -> StackSet | None:
    """Match discs anew, with the patterns and shims of `stacks` if that can be; None if not.

    Only where discs must be used or stay together, of which descents do not know, is the whole
    search asked.
    """
    answer = _in(task, _like(stacks, shims), seed)
    if answer is None and (len(task.use) or len(task.together)):
        answer = _searched(task, seed)
    return None if answer is None else (task.named(answer.stacks), answer.shims)


def built_first(
    task: Task,
    stacks: tuple[Stack, ...],
    shims: Shims,
    seed: int,
    on_target: bool,
) -> StackSet | None:
    """Match discs that are known otherwise than `stacks` were made of; None if that cannot be.

    Discs that are told to push so much more or less that no set is on target are matched at the
    load of `stacks`, as one would at the bench, unless the set must be `on_target`.
    """
    like = _like(stacks, shims)
    answer = _in(task, like, seed) or _searched(task, seed)
    if answer is None and not on_target:
        level = _levelled(task, stacks, shims)
        answer = _in(level, like, seed) or _searched(level, seed)
    return None if answer is None else (task.named(answer.stacks), answer.shims)


def _like(stacks: tuple[Stack, ...], shims: Shims) -> Arrangement:
    return Arrangement(tuple(map(Pattern.of, stacks)), shims, 0.0)


def _searched(task: Task, seed: int) -> Assigned | None:
    """The whole search, but for why there is no set."""
    found = search_all(task, Limits(), seed, quiet)[0]
    return None if found is None else found.answer


def _in(task: Task, choice: Arrangement, seed: int) -> Assigned | None:
    """Any set that matches in an arrangement; None where descents find none."""
    layouts, limits = Layouts.of(task, (choice,)), Limits()
    every = (soon_found(layouts, at, 1, limits, seed) for at in (True, False))
    return next((answer for answer in every if answer is not None), None)


def _levelled(task: Task, stacks: tuple[Stack, ...], shims: Shims) -> Task:
    """The task with its targets where the stacks carry on average what is believed of them."""
    there = exact(task, task.members(stacks), shims, 0.0).work_n
    return replace(task, target_n=task.target_n * (there / task.target_n).mean())
