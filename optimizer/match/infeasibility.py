"""When no set was found: what proves it, which limit binds, what is missing, what comes nearest.

A limit is said to bind only where lifting that one alone gave a set; what comes nearest is looked
for among stacks of middling discs, whatever the target.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.errors import CannotBuildError, Problem
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.layouts import arrangements, shims_of
from optimizer.match.packets import bearable, columns
from optimizer.mechanics.disc import Array
from optimizer.mechanics.like_stacks import LikeStacks
from optimizer.mechanics.stack import loads_below_flat
from optimizer.model.pattern import Pattern, patterns
from optimizer.model.stack import shim_totals

#: a bag this many times as large, of the same discs, shows what more of them would do; at least
#: so large that stacks of so many can be built
COPIES, MOST_STACK = 3, 12


def refuse(task: Task, proof: str, opens: Callable[[Task], bool]) -> CannotBuildError:
    """Explain why no set was found; the problems are reasons, remedies and neighbours.

    Parameters
    ----------
    proof : what proves that there is none, empty where nothing does
    opens : whether a set is found of a task
    """
    problems = [_headline(task, proof)]
    problems += [Problem(words) for words in _lifted(task, opens)]
    lacking, found = list(missing(task)), reached(task)
    said = (*lacking, *_reach_words(task, found, bool(lacking)))
    return CannotBuildError(*problems, *map(Problem, said), *_looks_wrong(task, found))


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
    found = "were found" if task.shoes > 1 else "was found"
    return Problem(
        f"No {wanted} {asked} {found} among {len(task.usable)} usable discs of the bag. It "
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


def missing(task: Task) -> Iterator[str]:
    """Say how many discs are missing if more of the same would help."""
    if not len(task.usable):
        yield "No disc of the bag may be used: look at leave under [stack]."
        return
    more = _copied(task)
    table = columns(more)
    ways = arrangements(more, table) if len(table.size) else []
    takes = [(sum(p.discs for p in way.patterns), way.patterns[0]) for way in ways]
    need, pattern = min(takes, key=lambda one: one[0], default=(0, None))
    lacking = need - len(task.usable)
    if lacking > 0:
        t, h = (
            text.length(float(np.median(values[task.usable])), task.units)
            for values in (task.discs.thickness_mm, task.discs.cone_height_mm)
        )
        yield (
            f"The bag is too small: {pattern} a stack takes {need} discs, so "
            f"{lacking} more like those on hand (thickness {t}, cone height {h}) "
            f"{'is' if lacking == 1 else 'are'} missing."
        )


def _copied(task: Task) -> Task:
    """The same task with a bag of several copies of every disc."""
    n = len(task.belief)
    copies = max(COPIES, -(-task.shoes * MOST_STACK // len(task.usable)))
    every = np.tile(np.arange(n), copies)
    usable = np.concatenate([task.usable + k * n for k in range(copies)])
    belief, discs = task.belief.take(every), task.discs.take(every)
    return replace(task, belief=belief, discs=discs, usable=usable)


#: patterns looked at, the smallest first, and those named
MOST_PATTERNS, NAMED = 400, 3
#: a travel, length or load that is off by this factor is a slip rather than a wish
SLIP = 3.0
#: where a target stands that looks wrong
TARGET = "[target]"
#: tries of the travel when nothing can be pressed so far, the likeliest slip first, and how near
#: a load must come, as a share of the target, for the first of them to be believed
TRAVELS, NEAR = (0.1, 1 / 25.4, 0.5), 0.1


@dataclass(frozen=True)
@frozen_arrays
class Reached:
    """A pattern of middling discs with its shims: loads in N of its stacks (S) at the travel."""

    pattern: Pattern
    shims_mm: tuple[float, ...]
    load_n: Array


def _reach_words(task: Task, found: list[Reached], small: bool) -> Iterator[str]:
    """Say what the bag can reach at this travel, and what comes nearest.

    A bag too `small` says nothing of the travel where no stack of it can be pressed so far.
    """
    if not len(task.usable):
        return
    yield from _unbearable(task)
    if not found:
        yield from () if small else _no_travel(task)
        return
    low = min(found, key=lambda one: one.load_n.mean())
    high = max(found, key=lambda one: one.load_n.mean())
    most = "" if high is low else f" to {_loads(task, high)} ({high.pattern})"
    yield (
        f"At this travel stacks of such discs carry {'' if high is low else 'from '}about "
        f"{_loads(task, low)} ({low.pattern}){most}."
    )
    for at in np.argsort([_off(task, one) for one in found], kind="stable")[:NAMED]:
        one = found[at]
        each = " + ".join(text.length(mm, task.units) for mm in one.shims_mm if mm)
        shims = f" with {each} of shims under the shoes" if each else ""
        yield f"Nearest pattern: {one.pattern}{shims} gives about {_loads(task, one)}."


def _looks_wrong(task: Task, found: list[Reached]) -> Iterator[Problem]:
    """Name a target so far from all that can be reached that it was hardly meant."""
    means, target = [float(one.load_n.mean()) for one in found], float(task.target_n.mean())
    if found and not min(means) / SLIP < target < max(means) * SLIP:
        said = f"The target of {text.load(target, task.units)} looks wrong."
        remedy = "Check the load and its unit, or the travel under [clutch]."
        yield Problem(said, TARGET, remedy)


def _unbearable(task: Task) -> Iterator[str]:
    """Name the packet sizes that no stack on target can have."""
    borne = set(columns(task).size.tolist())
    missing = sorted(set(task.rules.packet_sizes) - borne)
    if missing:
        names = ", ".join({1: "single discs", 2: "pairs", 3: "triples"}[k] for k in missing)
        yield (
            f"At the target load {names} of this bag would be pressed beyond "
            f"{task.rules.deflection_limit:g} h: thicker discs, bigger packets or a lower "
            "target are needed to use them."
        )


def reached(task: Task) -> list[Reached]:
    """Loads of middling discs in every pattern that keeps the deflection limit at the travel."""
    if not len(task.usable):
        return []
    most = max(len(task.usable) // task.shoes, 1)
    kinds = list(patterns(task.rules.packet_sizes, task.rules.discs_to(most)))[:MOST_PATTERNS]
    order = np.argsort(task.discs.thickness_mm[task.usable])
    middle = task.usable[order[[len(order) // 2]]]
    if not kinds:
        return []
    like = LikeStacks.of(task.discs.take(middle), kinds, task.model)
    bears = like.least(bearable(task, like.packets))[0][:, None]
    p = like.stacks(0, np.arange(len(kinds)))
    found = []
    for choice in shims_of(task):
        shims = shim_totals(choice)
        each = [
            loads_below_flat(p, task.datum_of(shoe), float(task.travel_mm[shoe]), shims[shoe])
            for shoe in range(task.shoes)
        ]
        loads = np.stack(each, axis=1)
        good = ((loads > 0) & (loads <= bears)).all(1)
        found += [Reached(kinds[k], shims, loads[k]) for k in np.flatnonzero(good)]
    return found


def _off(task: Task, one: Reached) -> float:
    """How far the worst stack is from its target, in N, unlike shoes weighted alike."""
    return float(np.abs((one.load_n - task.target_n) * task.weight).max())


def _loads(task: Task, one: Reached) -> str:
    """Say the load of every shoe, once where they agree."""
    said = [text.load(float(load), task.units) for load in one.load_n]
    if len(set(said)) == 1:
        return said[0]
    return " / ".join(said) + " (shoe by shoe)"


def _no_travel(task: Task) -> Iterator[str]:
    """Where no stack can be pressed so far within the limit: say what travel there could be."""
    travel = text.length(float(task.travel_mm.max()), task.units)
    yield (
        f"No stack of these discs bears a travel of {travel} within "
        f"{task.rules.deflection_limit:g} h: it takes more packets in series, or less travel."
    )
    tried = [replace(task, travel_mm=task.travel_mm * share) for share in TRAVELS]
    ways = [[(_off(task, one), other, one) for one in reached(other)] for other in tried]
    nearest = [min(each, key=lambda way: way[0]) for each in ways if each]
    if nearest:
        believed = [way for way in nearest if way[0] <= NEAR * float(task.target_n.mean())]
        _, other, near = believed[0] if believed else min(nearest, key=lambda way: way[0])
        yield (
            f"With {text.length(float(other.travel_mm.max()), task.units)} of travel "
            f"{near.pattern} gives about {_loads(task, near)}: check the travel under "
            "[clutch], and installed_length under [datum] if there is one."
        )
        return
    if task.datum.has_room:
        height = text.length(float(task.datum.lengths_mm(task.shoes).min()), task.units)
        yield f"Check installed_length {height} under [datum] against the height of the stacks."
