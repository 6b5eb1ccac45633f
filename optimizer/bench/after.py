"""Loads after moves on the bench, before and after the reading that follows.

At the loads that stand every packet has a constant (see `mechanics.constant`), so a swap
moves the load of a stack by -rate times the change of its constants. A stack that is taken apart
loses what its build added and draws new scatter of its edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import ndtri

from optimizer.bench.swaps import SwapPackets, Swaps
from optimizer.estimate.learn import Learned, Loads
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index

#: readings after a move that are foreseen, one stack read or several
FORESEEN = 64


@dataclass(frozen=True)
@frozen_arrays
class After:
    """Loads after K moves: `mean_n` (K, S), `covariance_n2` (K, S, S); `apart` (K, S) stacks."""

    mean_n: Array
    covariance_n2: Array
    apart: Mask


def after_swaps(
    learned: Learned, swaps: Swaps, table: SwapPackets, rows: Index, change_n: Array, now: Loads
) -> After:
    """Loads after the single swaps of each row (K, m); `change_n` (N, S) is what each adds."""
    stacks, durable = len(now.mean_n), table.slope.shape[1]
    slope = np.broadcast_to(now.slope, (len(rows), *now.slope.shape)).copy()
    mean = now.mean_n + change_n[rows].sum(1)
    build_n = now.slope[:, durable : durable + len(learned.build_mm)] @ learned.build_mm
    scatter = np.broadcast_to(now.scatter_n2, mean.shape).copy()
    apart = np.zeros(mean.shape, dtype=bool)
    for m in range(rows.shape[1]):
        one = swaps.take(rows[:, m])
        slope[:, :, :durable] -= one.change(table.slope, stacks) * now.rate[:, None]
        scatter += one.change(table.scatter_mm2, stacks) * now.rate**2
        apart |= one.touched(stacks)
    slope[:, :, durable:] *= ~apart[..., None]
    mean -= np.where(apart, build_n, 0.0)
    cover = slope @ learned.covariance @ slope.transpose(0, 2, 1)
    each = np.arange(stacks)
    cover[:, each, each] += np.where(apart, scatter, _unread(now, learned))
    return After(mean, cover, apart)


def _unread(now: Loads, learned: Learned) -> Array:
    """Variance in N^2 (S) of stacks that were never on the gauge, which no build explains."""
    explained = now.slope @ learned.covariance @ now.slope.T
    return np.diag(now.covariance_n2 - explained)


def told(after: After, noise_n2: Array) -> Array:
    """What one reading of each remade stack will tell: a root (K, S, S) of what it takes away.

    `noise_n2` (S) is the variance of one reading. Stacks that stand are not read; whatever the
    remade ones share with them is told of them too.
    """
    read = after.apart[:, None, :] * after.apart[:, :, None]
    seen: Array = np.where(read, after.covariance_n2, 0.0)
    each = np.arange(len(noise_n2))
    seen[:, each, each] = np.where(after.apart, seen[:, each, each] + noise_n2, 1.0)
    root = np.linalg.cholesky(seen)
    with_read: Array = np.where(after.apart[:, None, :], after.covariance_n2, 0.0)
    found: Array = np.linalg.solve(root, with_read.transpose(0, 2, 1)).transpose(0, 2, 1)
    return found


@cache
def drawn(stacks: int) -> Array:
    """Standard normal draws (F, S), alike for all moves so that they are compared by one luck.

    A Kronecker sequence (powers of the root of x^(S+1) = x + 1), brought to the mean and the
    covariance of the normal law, so that few of them do.
    """
    base = np.roots([1.0, *[0.0] * (stacks - 1), -1.0, -1.0])
    ratio = float(np.max(base.real[np.abs(base.imag) < 1e-9]))
    step = ratio ** -np.arange(1.0, stacks + 1)
    raw = np.asarray(
        ndtri((np.arange(1, FORESEEN + 1)[:, None] * step + 0.5) % 1), dtype=np.float64
    )
    centred: Array = raw - raw.mean(0)
    root = np.linalg.cholesky(centred.T @ centred / FORESEEN)
    even: Array = np.linalg.solve(root, centred.T).T
    even.setflags(write=False)
    return even
