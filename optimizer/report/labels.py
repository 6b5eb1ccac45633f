"""Labels that stand beside what they name without lying on each other."""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], gap: float) -> list[float]:
    """Move positions as little as possible until they are at least `gap` apart.

    The order of the positions is kept, equal ones in the order given; the answer is in the
    order of `wanted`. Least squares, by pooling neighbours that are too close.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    pools: list[list[float]] = []  # sum and count of what each pool wants, gaps taken out
    for rank, i in enumerate(order):
        pools.append([wanted[i] - rank * gap, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    placed = [0.0] * len(wanted)
    rank = 0
    for total, count in pools:
        for _ in range(int(count)):
            placed[order[rank]] = total / count + rank * gap
            rank += 1
    return placed
