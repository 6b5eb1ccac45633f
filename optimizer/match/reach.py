"""What stacks of a bag carry at the travel, whatever the target: where to go from a refusal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.layouts import shims_of
from optimizer.match.packets import bearable, columns
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import loads_below_flat
from optimizer.model.pattern import Pattern, patterns

#: patterns looked at, the smallest first, and those named
MOST_PATTERNS, NAMED = 400, 3
#: a travel, length or load that is off by this factor is a slip rather than a wish
SLIP = 3.0
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


def reach_words(task: Task) -> Iterator[str]:
    """Say what the bag can reach at this travel, what comes nearest, and what looks wrong."""
    yield from _unbearable(task)
    found = reached(task)
    if not found:
        yield from _no_travel(task)
        return
    low = min(found, key=lambda one: one.load_n.mean())
    high = max(found, key=lambda one: one.load_n.mean())
    yield (
        f"At this travel stacks of such discs carry from about {_loads(task, low)} ({low.pattern}) "
        f"to {_loads(task, high)} ({high.pattern})."
    )
    target = float(task.target_n.mean())
    if not low.load_n.mean() / SLIP < target < high.load_n.mean() * SLIP:
        yield (
            f"The target of {text.load(target, task.units)} looks wrong: check the load under "
            "[target] and its unit, or the travel under [clutch]."
        )
    for at in np.argsort([_off(task, one) for one in found], kind="stable")[:NAMED]:
        one = found[at]
        each = " + ".join(text.length(mm, task.units) for mm in one.shims_mm if mm)
        shims = f" with {each} of shims under the shoes" if each else ""
        yield f"Nearest pattern: {one.pattern}{shims} gives about {_loads(task, one)}."


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
    low, high = task.rules.discs or (1, most)
    kinds = list(patterns(task.rules.packet_sizes, (low, min(high, most))))[:MOST_PATTERNS]
    middle = int(
        task.usable[np.argsort(task.discs.thickness_mm[task.usable])[len(task.usable) // 2]]
    )
    if not kinds:
        return []
    members = np.full((len(kinds), max(p.packets for p in kinds), 3), -1, dtype=np.intp)
    for at, pattern in enumerate(kinds):
        for k, size in enumerate(pattern.sizes):
            members[at, k, :size] = middle
    p = packets(task.discs, members, task.model)
    there = p.present.any(-1)
    bears = np.where(there, bearable(task, p), np.inf).min(-1)[:, None]
    found = []
    for choice in shims_of(task):
        shims = tuple(sum(s) for s in choice)
        each = (
            loads_below_flat(
                p,
                task.datum_of(shoe),
                float(task.travel_mm[shoe]),
                shims[shoe],
            )
            for shoe in range(task.shoes)
        )
        loads = np.stack(list(each), axis=1)
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
