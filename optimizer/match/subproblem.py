"""A subproblem: one arrangement to try, with its linear rows.

Everything that must hold at some travel is one row: sum of constants over a stack's packets
near the stack's room. A residual of e mm is a load error of -rate * e.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.problem import Task, constants
from optimizer.frozen import frozen_arrays
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.nominal_curves import NominalCurves
from optimizer.match.packets import PacketTable, stacks_of, worn_bearable
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, limit_load
from optimizer.model.pattern import Pattern
from optimizer.model.stack import Shims

#: the rest load may differ this many resolutions between shoes: it only sets first movement
REST_WINDOW = 3.0

#: nominal share of the working load at rest below which a stack counts as loose
LOOSE = 0.02

#: a set of a subproblem: the columns of each stack
Chosen = tuple[Index, ...]


@dataclass(frozen=True)
@frozen_arrays
class LinearRow:
    """One travel: `constant_n` (M, S) and `room_n` (S) are lengths times the nominal rate.

    So a residual reads in newtons. `window_n` is the spread allowed between stacks;
    a `centred` row is free in level, the work row is not.
    """

    name: str
    constant_n: Array
    room_n: Array
    window_n: float
    centred: bool

    def off_n(self, chosen: Chosen) -> Array:
        """How far the chosen columns of each stack (S) are from its room."""
        have = [self.constant_n[columns, i].sum() for i, columns in enumerate(chosen)]
        off: Array = np.array(have) - self.room_n
        return off


@dataclass(frozen=True)
@frozen_arrays
class Subproblem:
    """An arrangement: the pattern and shims of each stack, usable columns and rows.

    `cost` (M) is each column's variance in N^2 of stack load, that of travel and seat shared
    out; `rows[0]` is the work row. `loose` stacks hardly fill their room at rest, or not.
    """

    patterns: tuple[Pattern, ...]
    shims: Shims
    columns: PacketTable
    cost: Array
    rate_n_per_mm: float
    rows: tuple[LinearRow, ...]
    loose: bool

    @property
    def alike(self) -> bool:
        """Whether the stacks may be exchanged without changing anything."""
        return len(set(self.patterns)) == 1 and all(
            np.ptp(row.room_n) == 0 and np.all(np.ptp(row.constant_n, axis=1) == 0)
            for row in self.rows
        )

    def variance_n2(self, chosen: Chosen) -> float:
        """Variance of the loads of some stacks together."""
        return float(self.cost[np.concatenate(chosen)].sum())

    def misfit_n(self, chosen: Chosen) -> Array:
        """By how much each row's deviation exceeds its window (R), 0 where that is kept."""
        excess = []
        for row in self.rows:
            off = row.off_n(chosen)
            wide = np.ptp(off) if row.centred else 2 * np.abs(off).max()
            excess.append(max(float(wide) - row.window_n, 0.0))
        return np.array(excess)

    def stacks(self, chosen: Chosen) -> Index:
        """Discs (S, P, 3) of the chosen columns, packets of one size together, biggest first."""
        size, members = self.columns.size, self.columns.members
        return stacks_of(
            [members[sorted(columns, key=lambda c: (-size[c], *members[c]))] for columns in chosen]
        )


def subproblem(layouts: Layouts, choice: Arrangement, above_n: float = 0.0) -> Subproblem | None:
    """Make the rows of an arrangement; None when it would be pressed too far on a worn drum.

    Packets that would reach the deflection limit `above_n` beyond a target are left out.
    """
    task, table, nominal = layouts.task, layouts.table, layouts.nominal
    used = _of_sizes(table, choice.patterns)
    worn = _loads_after(task, nominal, choice.patterns, task.worn_travel_mm - task.travel_mm)
    if worn is None:
        return None
    used = used[table.limit_n[used] >= float(task.target_n.max()) + above_n]
    p = table.packets.take(used)
    fit = used[np.minimum(limit_load(p) * 0.98, worn_bearable(task, p)) > worn.max()]
    if not len(fit):
        return None
    made = bare_subproblem(layouts, choice, fit)
    rows, loose = list(made.rows), False
    if np.any(task.worn_travel_mm > task.travel_mm):
        window = task.resolution_n
        rows.append(_travel_row(layouts, made, "worn", worn, task.worn_travel_mm, window))
    if task.datum.has_room:
        rest = _loads_after(task, nominal, choice.patterns, -task.travel_mm)
        loose = rest is None or bool((rest < LOOSE * task.target_n).any())
        if rest is not None and not loose:
            window = REST_WINDOW * task.resolution_n
            rows.append(_travel_row(layouts, made, "rest", rest, np.zeros(task.shoes), window))
    return replace(made, rows=tuple(rows), loose=loose)


def bare_subproblem(layouts: Layouts, choice: Arrangement, used: Index | None = None) -> Subproblem:
    """The work row alone, over the packets `used`, or every one of the sizes of the patterns."""
    task, nominal, patterns = layouts.task, layouts.nominal, choice.patterns
    columns = layouts.table.take(_of_sizes(layouts.table, patterns) if used is None else used)
    rate = _rates(nominal, patterns, task.target_n) * task.weight
    room = task.required_travel_mm(task.travel_mm, choice.shims)
    work = LinearRow("work", columns.constant_mm * rate, room * rate, task.resolution_n, False)
    # soft patterns turn the uncertainty of travel and seat into less load: without an even share
    # of what no choice of discs changes they would not be told from stiff ones
    place = place_mm2(task) / sum(p.packets for p in patterns)
    mean = mean_rate(task, nominal, patterns)
    cost = (columns.variance_mm2 + place) * mean**2
    return Subproblem(patterns, choice.shims, columns, cost, mean, (work,), False)


def _of_sizes(table: PacketTable, patterns: tuple[Pattern, ...]) -> Index:
    """Rows of the packets of the sizes that some patterns have."""
    return np.flatnonzero(np.isin(table.size, list({k for p in patterns for k in p.by_size})))


def place_mm2(task: Task) -> float:
    """Variance in mm^2 that travels and seats give a set, summed over its stacks."""
    return float((task.place_sd_mm**2).sum())


def mean_rate(task: Task, nominal: NominalCurves, patterns: tuple[Pattern, ...]) -> float:
    """Nominal stiffness in N/mm at the target, unlike shoes weighted alike, mean of stacks."""
    return float((_rates(nominal, patterns, task.target_n) * task.weight).mean())


def _rates(nominal: NominalCurves, patterns: tuple[Pattern, ...], load_n: Array) -> Array:
    """Nominal stiffness in N/mm of each stack (S) at its load (S)."""
    return np.array([nominal.rate(p, f) for p, f in zip(patterns, load_n, strict=True)])


def _loads_after(
    task: Task, nominal: NominalCurves, patterns: tuple[Pattern, ...], extra_mm: Array
) -> Array | None:
    """Loads (S) in N, `extra_mm` (S) beyond the travel; None where a pattern would be flat.

    Unlike targets keep their ratio: a stack that carries more is stiffer as a whole.
    """
    loads = [
        nominal.load_after(pattern, float(extra))
        for pattern, extra in zip(patterns, extra_mm, strict=True)
    ]
    return None if None in loads else np.array(loads, dtype=np.float64) / task.weight


def _travel_row(
    layouts: Layouts, made: Subproblem, name: str, load_n: Array, travel_mm: Array, window_n: float
) -> LinearRow:
    """The row of another travel (S), at which stacks nominally carry `load_n` (S)."""
    task = layouts.task
    load = np.full(task.shoes, load_n.mean()) if np.ptp(task.target_n) == 0 else load_n
    rate = _rates(layouts.nominal, made.patterns, load) * task.weight
    constant = constants(task, made.columns.packets, load)
    room = task.required_travel_mm(travel_mm, made.shims)
    return LinearRow(name, constant * rate, room * rate, window_n, True)
