"""`python -m tests.speed.lots`: the whole command on lots of invented discs, with all its files.

Counts of discs may be named: `python -m tests.speed.lots 3000 100000`. Processor seconds are those
of the command alone, however busy the machine is; the exponent is that of growth between two rows.
"""

from __future__ import annotations

import csv
import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from math import log
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from optimizer.io.documents import read_plan
from tests.speed.table import show, timed

COUNTS = (1000, 3000, 10_000)
#: the clutch that the lot is for; nine or so singles a stack, or pairs where they come nearer
JOB = """
[bag]
file = "bag.csv"
[clutch]
travel_mm = 1.5
worn_travel_mm = 1.7
[datum]
seating_load_n = 27
[target]
load_n = 890
load_tolerance_n = 22
spread_tolerance_n = 9
"""


def write_lot(folder: Path, discs: int, seed: int = 1) -> Path:
    """Write the job and an invented bag of so many discs; return the job's file."""
    rng = np.random.default_rng([seed, discs])
    sizes = zip(rng.normal(1.0, 0.007, discs), rng.normal(0.4, 0.012, discs), strict=True)
    with (folder / "bag.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["disc", "od_mm", "id_mm", "thickness_mm", "cone_height_mm", "edge"])
        rows.writerows(
            (f"D{number:06d}", 18, 9.2, f"{t:.4f}", f"{h:.4f}", "sharp")
            for number, (t, h) in enumerate(sizes)
        )
    job = folder / "job.toml"
    job.write_text(JOB)
    return job


def measure(discs: int) -> tuple[float, float, float, int]:
    """Seconds, processor seconds, memory in MB and sets of one whole command."""
    with TemporaryDirectory() as name:
        out = Path(name, "out")
        words = ("match", write_lot(Path(name), discs), "--sets", "max", "--out", out)
        seconds, used = timed(lambda: command(Path(name), *words))
        sets = len(read_plan(out / "plan.json").sets)
    return seconds, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, sets


def command(folder: Path, *words: object) -> resource.struct_rusage:
    """Run a command in a process of its own, what it says into a folder; what it used."""
    line = [sys.executable, "-m", "optimizer.cli.main", *map(str, words)]
    with (folder / "said").open("w") as said, (folder / "warned").open("w") as warned:
        child = subprocess.Popen(line, stdout=said, stderr=warned)
        _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit((folder / "warned").read_text())
    return used


def main() -> None:
    """Print the table."""
    counts = [int(word) for word in sys.argv[1:]] or COUNTS

    def rows() -> Iterator[list[object]]:
        before: list[tuple[int, float]] = []
        for count in counts:
            seconds, processor, memory, sets = measure(count)
            before.append((count, processor))
            growth = None
            if before[1:]:
                (few, less), (many, more) = list(pairwise(before))[-1]
                growth = log(more / less) / log(many / few)
            yield [count, sets, seconds, processor, memory, growth]

    head = ("discs", "sets", "s", "processor s", "MB", "growth exponent")
    show("Lots: the whole command with all its files", head, rows())


if __name__ == "__main__":
    main()
