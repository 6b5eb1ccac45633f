"""Loads of very many stacks at once, where the same packets recur in many of them.

Each distinct packet's deflection under load is written once as a polynomial of the load
about the one expected. Deflections in series add, so a stack's deflection is the sum of its
packets' coefficients, and its load the root of one polynomial: a few Newton steps on numbers
of the stack alone. What lies outside the range is computed by the stack mechanics.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, Packets, cone_left
from optimizer.mechanics.stack import Datum, Installed, Seating, stack_load

#: part of the load to either side that the polynomials cover, and their degree
REACH = 0.15
DEGREE = 9
#: greatest error in mm of a packet's polynomial: a stack yields some 2 um a newton
SOUND_MM = 1e-12
NEWTON_STEPS = 4
#: stacks worked on together, so that their numbers stay in the processor's cache
CHUNK = 8192


@dataclass(frozen=True)
class LoadTable:
    """M distinct packets about a load: see `load_table`.

    `coefficient` (M, DEGREE + 1) are those of the constant c in mm in powers of
    (load - middle) / half, lowest first; `sound` (M) tells where they hold.
    """

    packets: Packets
    datum: Datum
    middle_n: float
    half_n: float
    coefficient: Array
    sound: NDArray[np.bool_]


def load_table(p: Packets, datum: Datum, around_n: float) -> LoadTable:
    """Tabulate the packets `p` (M) for loads within REACH of `around_n`.

    Notes
    -----
    Interpolates in Chebyshev nodes what a packet adds to a stack's side of the identity: its
    deflection since the seating load, or minus its height under load. A packet in which a
    disc starts to touch within the range is no polynomial; its stacks are computed exactly.
    """
    half = REACH * around_n
    nodes = chebyshev.chebpts1(DEGREE + 1)
    between = np.cos(np.pi * np.arange(1, DEGREE + 1) / (DEGREE + 1))
    base = cone_left(p, datum.load_n) if isinstance(datum, Seating) else -p.height_mm

    def constant(z: Array) -> Array:
        return np.stack([base - cone_left(p, around_n + half * at) for at in z])

    series = np.linalg.solve(chebyshev.chebvander(nodes, DEGREE), constant(nodes))
    error = np.abs(chebyshev.chebval(between, series).T - constant(between)).max(0)
    to_powers = np.stack(
        [
            np.pad(chebyshev.cheb2poly(row), (0, DEGREE + 1))[: DEGREE + 1]
            for row in np.eye(DEGREE + 1)
        ]
    )
    coefficient = series.T @ to_powers
    return LoadTable(p, datum, around_n, half, coefficient, error <= SOUND_MM)


def bulk_loads(
    table: LoadTable, rows: Index, travel_mm: Array | float, shims_mm: Array | float = 0.0
) -> Array:
    """Load in N of stacks after `travel_mm` (scalar or S): as `stack.stack_load`.

    Parameters
    ----------
    rows : (S, P) packets of each stack, by their number in the table

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid or a disc past its load peak.
    """
    count = len(rows)
    length = table.datum.length_mm if isinstance(table.datum, Installed) else 0.0
    room = np.broadcast_to(np.asarray(travel_mm + shims_mm - length, dtype=np.float64), (count,))
    load = np.empty(count)
    inside = np.empty(count, dtype=bool)
    for start in range(0, count, CHUNK):
        part = slice(start, start + CHUNK)
        z = _root(_summed(table.coefficient, rows[part]), room[part])
        load[part] = table.middle_n + table.half_n * z
        inside[part] = np.abs(z) <= 1  # false for nan
    if not table.sound.all():
        inside &= table.sound[rows].all(1)
    left = np.flatnonzero(~inside)
    if len(left):
        load[left] = stack_load(
            table.packets.take(rows[left]),
            _datum_of(table.datum, left),
            _of(travel_mm, left),
            _of(shims_mm, left),
        )
    return load


def _summed(coefficient: Array, rows: Index) -> Array:
    """Sum of the coefficients (D, S) over the packets of each stack: a sparse product."""
    from scipy.sparse import csr_array

    count, packets_each = rows.shape
    ends = np.arange(0, rows.size + 1, packets_each)
    chosen = csr_array((np.ones(rows.size), rows.ravel(), ends), (count, len(coefficient)))
    return np.ascontiguousarray((chosen @ coefficient).T)


def _root(power: Array, room: Array) -> Array:
    """Where the polynomials (D, S), which rise, reach `room` (S); wild where that is far out."""
    z = np.zeros_like(room)
    with np.errstate(all="ignore"):
        for _ in range(NEWTON_STEPS):
            value, slope = power[-1].copy(), np.zeros_like(room)
            for k in range(len(power) - 2, -1, -1):
                slope *= z
                slope += value
                value *= z
                value += power[k]
            value -= room
            z -= value / slope
    return z


def _of(value: Array | float, rows: Index) -> Array | float:
    return value if np.ndim(value) == 0 else np.asarray(value)[rows]


def _datum_of(datum: Datum, rows: Index) -> Datum:
    return Installed(_of(datum.length_mm, rows)) if isinstance(datum, Installed) else datum
