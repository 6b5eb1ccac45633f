"""When the bag cannot do it: which limit binds, what is missing, what comes nearest.

Each limit is lifted alone and the necessary tests are run again; the ones whose lifting
opens a way are the ones that bind.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace

import numpy as np

from optimizer.errors import CannotBuildError, Problem
from optimizer.estimate.prior import Belief
from optimizer.estimate.problem import Task
from optimizer.match.layouts import arrangements
from optimizer.match.levels import levels
from optimizer.match.packets import Columns, columns
from optimizer.units import N_PER_LBF

#: a bag this many times as large, of the same discs, shows what more of them would do
COPIES = 3


def refuse(task: Task, table: Columns) -> CannotBuildError:
    """Explain why no set can be built; the problems are reasons, remedies and neighbours."""
    problems = [_headline(task)]
    problems += [Problem(text) for text in _lifted(task)]
    problems += [Problem(text) for text in _missing(task)]
    problems += [Problem(text) for text in _nearest(task, table)]
    return CannotBuildError(*problems)


def _headline(task: Task) -> Problem:
    low, high = task.target_n.min(), task.target_n.max()
    target = _load(low) if low == high else f"{_load(low)} to {_load(high)}"
    return Problem(
        f"No {task.shoes} stacks of {target} +- {_load(task.load_tolerance_n)} at the travel "
        f"can be built from the {len(task.usable)} usable discs of the bag."
    )


def _lifted(task: Task) -> Iterator[str]:
    """Say which single limit, lifted, would open a way."""
    rules = task.rules
    trials = []
    if rules.free_height_mm is not None:
        trials.append(("the free height window", replace(rules, free_height_mm=None)))
    if rules.discs is not None:
        trials.append(("the window of discs per stack", replace(rules, discs=None)))
    if rules.deflection_limit < 0.95:
        trials.append(
            (
                f"the deflection limit {rules.deflection_limit:g} h",
                replace(rules, deflection_limit=0.95),
            )
        )
    if set(rules.packet_sizes) != {1, 2, 3}:
        trials.append(("the allowed packet sizes", replace(rules, packet_sizes=(1, 2, 3))))
    if rules.same_pattern:
        trials.append(("the rule of one pattern for all shoes", replace(rules, same_pattern=False)))
    for name, lifted in trials:
        if _open(replace(task, rules=lifted)):
            yield f"It is {name} that binds: without it a way would be open."
    if rules.leave and _open(replace(task, usable=np.arange(len(task.belief)))):
        yield "It is the list of discs to leave out that binds: with them a way would be open."


def _missing(task: Task) -> Iterator[str]:
    """Say how many discs are missing if more of the same would help."""
    more = _copied(task)
    table = columns(more)
    ways = arrangements(more, table) if len(table.size) else []
    need = min((sum(p.discs for p in way.patterns) for way in ways), default=None)
    if need is not None and need > len(task.usable):
        pattern = min(ways, key=lambda way: sum(p.discs for p in way.patterns)).patterns[0]
        t = np.median(task.discs.thickness_mm[task.usable])
        h = np.median(task.discs.cone_height_mm[task.usable])
        yield (
            f"The bag is too small: {pattern} a stack takes {need} discs, so "
            f"{need - len(task.usable)} more like those on hand (thickness {t:.3f} mm, cone "
            f"height {h:.3f} mm) are missing."
        )


def _copied(task: Task) -> Task:
    """The same task with a bag of several copies of every disc."""
    n = len(task.belief)
    every = np.tile(np.arange(n), COPIES)
    arrays = {
        f.name: getattr(task.belief, f.name)[every] for f in fields(Belief) if f.name != "names"
    }
    belief = Belief(names=task.belief.names * COPIES, **arrays)
    usable = np.concatenate([task.usable + k * n for k in range(COPIES)])
    return replace(task, belief=belief, discs=task.discs.take(every), usable=usable)


def _nearest(task: Task, table: Columns) -> Iterator[str]:
    """Name the patterns whose stacks come nearest to the target, with their loads."""
    missing = sorted(set(task.rules.packet_sizes) - set(table.size.tolist()))
    if missing:
        names = ", ".join({1: "single discs", 2: "pairs", 3: "triples"}[k] for k in missing)
        yield (
            f"At the target load {names} of this bag would be pressed beyond "
            f"{task.rules.deflection_limit:g} h: thicker discs, bigger packets or a lower "
            "target are needed to use them."
        )
    if not len(table.size):
        return
    wide = replace(task, load_tolerance_n=0.9 * float(task.target_n.min()))
    near = []
    level = levels(task, table)
    for way in arrangements(wide, table):
        pattern = way.patterns[0]
        middle = [
            pattern.counts[k - 1] * np.median(table.constant_mm[table.size == k, 0])
            for k in set(pattern.sizes)
        ]
        shim_mm = tuple(sum(shims) for shims in way.shims)
        room = float(task.room_mm(task.travel_mm, np.array(shim_mm))[0])
        load = level.load_after(pattern, room - sum(middle))
        if load is not None:
            near.append((abs(load - task.target_n[0]), pattern, shim_mm, load))
    for _, pattern, shim_mm, load in sorted(near, key=lambda x: x[:2])[:3]:
        each = " + ".join(f"{mm:g}" for mm in shim_mm)
        shims = f" with {each} mm of shims under the shoes" if any(shim_mm) else ""
        yield f"Nearest pattern: {pattern}{shims} gives about {_load(load)}."


def _open(task: Task) -> bool:
    table = columns(task)
    return bool(len(table.size)) and bool(arrangements(task, table))


def _load(newtons: float) -> str:
    return f"{newtons:.1f} N ({newtons / N_PER_LBF:.1f} lbf)"
