"""`python -m tests.speed.draws`: what the draws of an order cost, here and on a cluster.

Processor seconds of `evenstack order` on the shipped example, all processes together, for some
numbers of simulated deliveries; the straight line through them says what a million cost. Numbers
of deliveries may be named: `python -m tests.speed.draws 250 1000`.
"""

from __future__ import annotations

import resource
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np

from tests.speed.lots import command
from tests.speed.table import show

ROOT = Path(__file__).parents[2]
ORDER = (
    "order", ROOT / "examples/spring_order/job.toml",
    "--catalog", ROOT / "catalogs/invented_supplier.csv", "--sets", 10,
)  # fmt: skip
COUNTS = (250, 500, 1000, 2000)
MILLION = 1_000_000


def here(draws: int) -> tuple[float, float]:
    """Seconds and processor seconds in one process."""
    with TemporaryDirectory() as name:
        started = perf_counter()
        used = command(Path(name), *ORDER, "--draws", draws, "--workers", 1)
    return perf_counter() - started, used.ru_utime + used.ru_stime


def clustered(draws: int) -> tuple[float, float]:
    """The same on a scheduler with two workers on this machine, their processes counted too."""
    from distributed import LocalCluster

    before = _children()
    with TemporaryDirectory() as name, LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", protocol="tcp",
        dashboard_address=None,
    ) as local:  # fmt: skip
        started = perf_counter()
        command(Path(name), *ORDER, "--draws", draws, "--cluster", local.scheduler_address)
        seconds = perf_counter() - started
    return seconds, _children() - before


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Print the table and the line through it."""
    counts = [int(word) for word in sys.argv[1:]] or COUNTS
    took: list[float] = []

    def rows() -> Iterator[list[object]]:
        for count in counts:
            seconds, processor = here(count)
            took.append(processor)
            yield ["one process", count, seconds, processor]
        for count in (counts[0], counts[-1]):
            yield ["cluster of two workers", count, *clustered(count)]

    show("Draws of an order", ("where", "deliveries", "s", "processor s"), rows())
    each, fixed = np.polyfit(counts, took, 1)
    print(
        f"\n{fixed:.1f} s and {1000 * each:.2f} ms a delivery: {MILLION * each / 3600:.1f} "
        "processor hours for a million deliveries"
    )


if __name__ == "__main__":
    main()
