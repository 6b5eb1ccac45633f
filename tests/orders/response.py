"""Make the table of what the bench makes of a set, from full plays of the learning loop.

    python -m tests.orders.response [--plays N] [--first SEED] [--add TABLE] FILE

A play is a hidden bench of `tests/simulator`: 40 discs, nine in series under three shoes,
built, gauged in the clutch and mended as `evenstack bench` advises. Worlds differ in three
numbers, each a standard deviation over the spread tolerance: what a build makes anew of a
stack's load (`scatter`), what of it lasts and is not known before readings (`lasting`: the
discs as measured, the shoe's place), and what a reading errs (`reading`). Kept is the chance
that the loop itself states after each round, to which it goes on while below `STOP_AT`:
averaged over plays it is the share that is truly within, as far as its chances are true. That
they are is looked at beside (`truly`), and by `python -m tests.orders.promises`. Every world is
played on seeds of its own; `--add` pools the plays of a table made before of other seeds.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, product
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.learn import learn, loads
from optimizer.orders.response import ROUNDS, STOP_AT
from tests.simulator.play import turns
from tests.simulator.setup import SHOES, WIDTH_N, first_assignment, job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

SCATTERS = (0.002, 0.008, 0.02, 0.04)
PLACES_MM = (0.0, 0.01, 0.03)
GAUGES = (0.3, 1.0, 2.0)
#: seeds between the first of one world and of the next
APART = 1000
HEAD = "scatter,lasting,reading,plays,truly," + ",".join(f"after_{n}" for n in range(1, ROUNDS + 1))


@dataclass(frozen=True)
class Played:
    """Chances stated after rounds 1, 2, ... of one play, and whether truly within at the end."""

    doubts: tuple[float, float, float]
    said: tuple[float, ...]
    within: bool


def worlds() -> Iterator[World]:
    for scatter, place, gauge in product(SCATTERS, PLACES_MM, GAUGES):
        yield World(True, 0.002, sharp_scatter=scatter, place_sd_mm=place, gauge=gauge)


def play(world: World, seed: int) -> Played:
    """Play at most `ROUNDS` rounds; a set that stands is left as it is."""
    truth, job = Truth.draw(world, seed), job_for(world)
    said: list[float] = []
    for turn in islice(turns(truth, job, STOP_AT), ROUNDS):
        said.append(turn.advice.odds_now)
        if turn.advice.kind in ("stop", "leave"):
            break
    within = truth.spread_n(turn.stacks) <= WIDTH_N
    last = said[-1]
    return Played(doubts_of(world, seed), (*said, *[last] * (ROUNDS - len(said))), within)


def doubts_of(world: World, seed: int) -> tuple[float, float, float]:
    """Standard deviations of a stack's load by build, lasting, and of a reading, over width."""
    job = job_for(world)
    rig = rig_for(Truth.draw(world, seed), job)
    first = packs_of(first_assignment(rig, job))
    before = loads(learn(rig, (), (0.0,) * SHOES), first, (0.0,) * SHOES)
    cover = before.covariance_n2
    own = float((np.trace(cover) - (cover.sum() - np.trace(cover)) / (SHOES - 1)) / SHOES)
    built = float(before.scatter_n2.mean())
    reading = float(np.mean(reading_variance(job.gauge, before.rate)))
    return tuple(float(np.sqrt(v)) / WIDTH_N for v in (built, max(own - built, 0.0), reading))


def row(world: World, plays: range) -> list[float]:
    found = [play(world, seed) for seed in plays]
    doubts = np.mean([p.doubts for p in found], axis=0)
    said = np.mean([p.said for p in found], axis=0)
    return [*doubts, len(plays), float(np.mean([p.within for p in found])), *said]


def pooled(one: list[float], other: list[float]) -> list[float]:
    """Rows of one world from different plays, each weighed by its plays."""
    plays = one[3] + other[3]
    mean = [(one[3] * a + other[3] * b) / plays for a, b in zip(one, other, strict=True)]
    return [*mean[:3], plays, *mean[4:]]


def read(path: Path) -> list[list[float]]:
    lines = [x for x in path.read_text(encoding="utf-8").splitlines() if x[0] != "#"]
    return [[float(cell) for cell in line.split(",")] for line in lines[1:]]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("file", type=Path)
    parser.add_argument("--plays", type=int, default=70)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--add", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    rows = Parallel(n_jobs=given.workers, verbose=10)(
        delayed(row)(world, range(start := given.first + APART * at, start + given.plays))
        for at, world in enumerate(worlds())
    )
    if given.add is not None:
        rows = [pooled(a, b) for a, b in zip(rows, read(given.add), strict=True)]
    remarks = [
        "# Made by python -m tests.orders.response; see that module.",
        "# The first three columns are standard deviations over the spread tolerance.",
    ]
    lines = [",".join(f"{cell:.{0 if k == 3 else 4}f}" for k, cell in enumerate(r)) for r in rows]
    given.file.write_text("\n".join([*remarks, HEAD, *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
