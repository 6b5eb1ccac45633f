"""Nominal behaviour of packets of each size, tabulated once over a grid of loads.

The load at rest or on a worn drum is not chosen but follows from the pattern. The rows that
match stacks there need that load only to within some newtons (a stack's rate differs from
the next one's by a per cent or so), so it is read off the mean packets of the bag.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task, constants
from optimizer.frozen import frozen_arrays
from optimizer.match.packets import PacketTable
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import limit_load
from optimizer.model.pattern import Pattern

GRID = 65
SAMPLE = 48
#: packets are tabulated to this part of the load at which the first of them is flat
NEAR_FLAT = 0.98


@dataclass(frozen=True)
@frozen_arrays
class NominalCurves:
    """Mean constant in mm of packets of size k at `load_n` (G): `constant_mm[k]` (G)."""

    load_n: dict[int, Array]
    constant_mm: dict[int, Array]
    target_n: float

    def load_after(self, pattern: Pattern, extra_mm: float) -> float | None:
        """Load in N of a stack that carries the target, `extra_mm` further on.

        None when the pattern would be pressed flat on the way; 0 when it hangs loose.
        """
        top = min(self.load_n[k][-1] for k in pattern.by_size)
        grid = np.linspace(0.0, top, 4 * GRID)
        moved = self._moved(pattern, grid)
        if extra_mm > moved[-1]:
            return None
        return float(np.interp(extra_mm, moved, grid, left=0.0))

    def rate(self, pattern: Pattern, load_n: float) -> float:
        """Nominal stiffness in N/mm of the pattern near `load_n`."""
        step = 0.02 * self.target_n
        ends = np.array([max(load_n - step, 0.0), load_n + step])
        moved = self._moved(pattern, ends)
        return float((ends[1] - ends[0]) / (moved[1] - moved[0]))

    def _moved(self, pattern: Pattern, load_n: Array) -> Array:
        """Deflection in mm of the pattern from the target load to `load_n`."""
        moved = np.zeros_like(load_n)
        for size, count in pattern.by_size.items():
            at = np.interp(load_n, self.load_n[size], self.constant_mm[size])
            there = np.interp(self.target_n, self.load_n[size], self.constant_mm[size])
            moved += count * (at - there)
        return moved


def nominal_curves(task: Task, columns: PacketTable) -> NominalCurves:
    """Tabulate a sample of the columns of each size."""
    loads, constant = {}, {}
    for size in np.unique(columns.size):
        rows = np.flatnonzero(columns.size == size)
        sample = columns.packets.take(rows[:: max(1, len(rows) // SAMPLE)])
        grid = np.linspace(0.0, NEAR_FLAT * float(np.median(limit_load(sample))), GRID)
        loads[int(size)] = grid
        constant[int(size)] = constants(task, sample, grid).mean(0)
    return NominalCurves(loads, constant, float(task.target_n.mean()))
