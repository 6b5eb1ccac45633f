"""What patterns of a bag reach the target, and what chances they can give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import Task
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.subproblem import place_mm2
from optimizer.mechanics.packet import residual_cone_height


@dataclass(frozen=True)
class Outlook:
    """A pattern with shims, of discs as they are on average in the bag.

    `load_n` at the travel, `free_height_mm` and `rate_n_per_mm` are those of a stack of
    mean packets; `share` is the deflection share of h of the most pressed packet size at
    the target load. `sd_n` is the uncertainty of one stack's load of average discs, `best_sd_n`
    of the least doubtful packets; the chance is that of a perfectly matched set with
    either.
    """

    pattern: str
    discs: int
    packets: int
    shims_mm: tuple[float, ...]
    load_n: float
    free_height_mm: float
    rate_n_per_mm: float
    share: float
    sd_n: float
    best_sd_n: float
    chance: float
    best_chance: float


def outlooks(task: Task, spread_tolerance_n: float) -> list[Outlook]:
    """List the patterns that may reach the target, likeliest to match first.

    One line for a pattern: the shims listed are the fewest that do. Patterns that would be
    flat on a worn drum are left out.
    """
    layouts = Layouts.of(task)
    found: dict[str, Outlook] = {}
    for way in layouts.choices:
        name = str(way.patterns[0])
        if len(set(way.patterns)) > 1 or name in found:
            continue
        seen = _look(layouts, way, spread_tolerance_n)
        if seen is not None:
            found[name] = seen
    return sorted(found.values(), key=lambda o: -o.chance)


def _look(layouts: Layouts, way: Arrangement, tolerance_n: float) -> Outlook | None:
    task, table, nominal, pattern = layouts.task, layouts.table, layouts.nominal, way.patterns[0]
    wear = float((task.worn_travel_mm - task.travel_mm).max())
    if nominal.load_after(pattern, wear) is None:
        return None
    count = pattern.by_size
    rows = {k: np.flatnonzero(table.size == k) for k in count}
    room = task.required_travel_mm(task.travel_mm, way.shims)
    constant = sum(n * table.constant_mm[rows[k]].mean(0) for k, n in count.items())
    load = nominal.load_after(pattern, float((room - constant).mean()))
    if load is None:
        return None
    rate = nominal.rate(pattern, nominal.target_n)
    shares = []
    for of_size in rows.values():
        p = table.packets.take(of_size)
        shares.append(float(np.median(1 - residual_cone_height(p, nominal.target_n) / p.free_mm)))
    place = place_mm2(task) / task.shoes
    variance = sum(n * table.variance_mm2[rows[k]].mean() for k, n in count.items())
    sd = rate * np.sqrt(variance + place)
    best_sd = rate * np.sqrt(way.low_cost / task.shoes + place)
    chances = spread_within(
        np.zeros((2, task.shoes)),
        np.array([sd, best_sd])[:, None, None] ** 2 * np.eye(task.shoes),
        tolerance_n,
    )
    return Outlook(
        pattern=str(pattern),
        discs=pattern.discs,
        packets=pattern.packets,
        shims_mm=way.shims[0],
        load_n=load,
        free_height_mm=float(sum(n * table.free_mm[rows[k]].mean() for k, n in count.items())),
        rate_n_per_mm=rate,
        share=max(shares),
        sd_n=float(sd),
        best_sd_n=float(best_sd),
        chance=float(chances[0]),
        best_chance=float(chances[1]),
    )
