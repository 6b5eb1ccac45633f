"""Timing and tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from time import perf_counter
from typing import TypeVar

T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Seconds that `work` takes, and what it gives."""
    started = perf_counter()
    answer = work()
    return perf_counter() - started, answer


def show(title: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print a table in Markdown as its rows come."""
    print(f"\n## {title}\n\n| {' | '.join(head)} |\n|{'---|' * len(head)}", flush=True)
    for row in rows:
        print(f"| {' | '.join(_text(cell) for cell in row)} |", flush=True)


def _text(cell: object) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:.3g}"
    return str(cell)
