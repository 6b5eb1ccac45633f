"""When no set was found: what proves it, which limit binds, what is missing, what comes nearest.

A limit is said to bind only where lifting that one alone gave a set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from optimizer import text
from optimizer.errors import CannotBuildError, Problem
from optimizer.estimate.problem import Task
from optimizer.match.layouts import arrangements
from optimizer.match.packets import columns
from optimizer.match.reach import reach_words

#: a bag this many times as large, of the same discs, shows what more of them would do
COPIES = 3


def refuse(task: Task, proof: str, opens: Callable[[Task], bool]) -> CannotBuildError:
    """Explain why no set was found; the problems are reasons, remedies and neighbours.

    Parameters
    ----------
    proof : what proves that there is none, empty where nothing does
    opens : whether a set is found of a task
    """
    problems = [_headline(task, proof)]
    problems += [Problem(words) for words in _lifted(task, opens)]
    problems += [Problem(words) for words in _missing(task)]
    problems += [Problem(words) for words in reach_words(task)]
    return CannotBuildError(*problems)


def _headline(task: Task, proof: str) -> Problem:
    low, high = (
        text.load(float(end), task.units) for end in (task.target_n.min(), task.target_n.max())
    )
    target = low if low == high else f"{low} to {high}"
    wanted = f"{task.shoes} stacks of" if task.shoes > 1 else "stack of"
    asked = f"{target} +- {text.load(task.load_tolerance_n, task.units)} at the travel"
    if proof:
        return Problem(
            f"No {wanted} {asked} can be built from the {len(task.usable)} usable discs of the "
            f"bag: {proof}."
        )
    return Problem(
        f"No {wanted} {asked} was found among {len(task.usable)} usable discs of the bag. It "
        "is not proven that there is none: the counted work ended first."
    )


def _lifted(task: Task, opens: Callable[[Task], bool]) -> Iterator[str]:
    """Say which single limit, lifted, gives a set."""
    rules = task.rules
    trials: list[tuple[str, Task]] = []

    def trial(name: str, **lifted: object) -> None:
        trials.append((name, replace(task, rules=replace(rules, **lifted))))  # type: ignore[arg-type]

    if rules.free_height_mm is not None:
        trial("the free height window", free_height_mm=None)
    if rules.discs is not None:
        trial("the window of discs per stack", discs=None)
    if rules.deflection_limit < 0.95:
        trial(f"the deflection limit {rules.deflection_limit:g} h", deflection_limit=0.95)
    if rules.worn_limit is not None:
        trial(f"the deflection limit {rules.worn_limit:g} h on a worn drum", worn_limit=None)
    if set(rules.packet_sizes) != {1, 2, 3}:
        trial("the allowed packet sizes", packet_sizes=(1, 2, 3))
    if rules.same_pattern and task.shoes > 1:
        trial("the rule of one pattern for all shoes", same_pattern=False)
    if rules.leave:
        trials.append(
            ("the list of discs to leave out", replace(task, usable=np.arange(len(task.belief))))
        )
    if len(task.use):
        trials.append(("the list of discs to use", replace(task, use=task.use[:0])))
    if task.together:
        trials.append(("the discs that belong together", replace(task, together=())))
    for name, lifted in trials:
        if opens(lifted):
            yield f"It is {name} that binds: without it a set was found."


def _missing(task: Task) -> Iterator[str]:
    """Say how many discs are missing if more of the same would help."""
    more = _copied(task)
    table = columns(more)
    ways = arrangements(more, table) if len(table.size) else []
    need = min((sum(p.discs for p in way.patterns) for way in ways), default=None)
    if need is not None and need > len(task.usable):
        pattern = min(ways, key=lambda way: sum(p.discs for p in way.patterns)).patterns[0]
        t, h = (
            text.length(float(np.median(values[task.usable])), task.units)
            for values in (task.discs.thickness_mm, task.discs.cone_height_mm)
        )
        yield (
            f"The bag is too small: {pattern} a stack takes {need} discs, so "
            f"{need - len(task.usable)} more like those on hand (thickness {t}, cone height {h}) "
            "are missing."
        )


def _copied(task: Task) -> Task:
    """The same task with a bag of several copies of every disc."""
    n = len(task.belief)
    every = np.tile(np.arange(n), COPIES)
    usable = np.concatenate([task.usable + k * n for k in range(COPIES)])
    belief, discs = task.belief.take(every), task.discs.take(every)
    return replace(task, belief=belief, discs=discs, usable=usable)
