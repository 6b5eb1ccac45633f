"""Play the learning loop on benches of all kinds, and fit what the bench makes of a set.

    python -m tests.orders.response play PLAYS [--first N] [--plays N]
    python -m tests.orders.response fit PLAYS LAW

A play is a hidden bench of `tests/simulator`: 40 discs, nine in series under three shoes,
built, gauged in the clutch and mended as `evenstack bench` advises. Each play has a bench of
its own; four standard deviations tell it, each over the spread tolerance: what a build makes
anew of a stack's load (`scatter`), what lasts and is not known of its discs (`discs`) and of its
shoe (`place`), and what a reading errs (`reading`). They fill their ranges evenly in the
logarithms (Halton points). `play` adds a line a play to PLAYS: the four, the chance that the
loop itself states after each round, to which it goes on while below `STOP_AT`, and whether the
set was truly within. `fit` makes of them the law of `optimizer/orders/bench_response.csv`. The
chances stated scatter less than what came true, but up to the round `EARLY` they are some points
too high: there what came true counts, later the mean of both. Whether the law holds is looked at
by `fit`, and by `python -m tests.orders.promises` on benches and seeds that are not in it.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from functools import cache
from itertools import islice, pairwise
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from scipy.stats import qmc

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.learn import learn, loads
from optimizer.model.job import Job
from optimizer.orders.response import LAW, ROUNDS, STOP_AT, WORDS, left, within
from tests.simulator.play import NO_SHIMS, turns
from tests.simulator.setup import SHOES, WIDTH_N, first_assignment, job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

#: lowest and highest of what tells a bench: scatter of an edge, instrument (and with it what is
#: not known of a disc's stiffness), place of a shoe in mm, and gauge in times the usual
LOW = np.array([0.0015, 0.0006, 0.0008, 0.25])
HIGH = np.array([0.045, 0.015, 0.035, 2.5])
STIFFNESS_SD = (0.003, 0.015)
FIRST_SEED = 200_000
#: up to which round what is said does not count, fits on plays drawn anew; the rounds that the law
#: tells, sds whose chances are computed, and numbers to start from
EARLY, AGAIN = 3, 40
TURNS = np.arange(2, ROUNDS + 1)
SDS = np.geomspace(0.02, 20.0, 400)
START = np.array([0.5, 0.3, 0.1, 0.4, 1.5, 1.0, 1.0, 0.1, 1.2, 0.15])
#: chances between which what the law says is held against what came true
BETWEEN = (0.0, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0)


@dataclass(frozen=True)
class Played:
    """What is not known of a bench (4), and after rounds 1, 2, ... what is said and true."""

    doubts: tuple[float, ...]
    said: tuple[float, ...]
    kept: tuple[bool, ...]


def world(number: int) -> World:
    """Return the bench of a play."""
    at = qmc.Halton(4, seed=0).fast_forward(number).random(1)[0]
    scatter, tool, place, gauge = LOW * (HIGH / LOW) ** at
    low, high = STIFFNESS_SD
    stiffness = low * (high / low) ** at[1]
    return World(True, tool, stiffness, scatter, place_sd_mm=place, gauge=gauge)


def play(world: World, seed: int) -> Played:
    """Play at most `ROUNDS` rounds; a set that stands is left as it is."""
    truth, job = Truth.draw(world, seed), job_for(world)
    said: list[float] = []
    kept: list[bool] = []
    for turn in islice(turns(truth, job, STOP_AT), ROUNDS):
        said.append(turn.advice.chance_now)
        kept.append(truth.spread_n(turn.stacks) <= WIDTH_N)
        if turn.advice.kind in ("stop", "leave"):
            break
    more = ROUNDS - len(said)
    return Played(stack_sds(truth, job), (*said, *[said[-1]] * more), (*kept, *[kept[-1]] * more))


def stack_sds(truth: Truth, job: Job) -> tuple[float, ...]:
    """Standard deviations of a stack's load by build, discs and shoe, and of a reading."""
    rig = rig_for(truth, job)
    first = packs_of(first_assignment(rig, job))
    before = loads(learn(rig, (), NO_SHIMS), first, NO_SHIMS)
    cover = before.covariance_n2
    own = float((np.trace(cover) - (cover.sum() - np.trace(cover)) / (SHOES - 1)) / SHOES)
    built = float(before.scatter_n2.mean())
    place = float(np.mean((before.rate * truth.world.place_sd_mm) ** 2))
    reading = float(np.mean(reading_variance(job.gauge, before.rate)))
    every = (built, max(own - built - place, 0.0), place, reading)
    return tuple(float(np.sqrt(v)) / WIDTH_N for v in every)


def fit(plays: np.ndarray, start: np.ndarray = START) -> np.ndarray:
    """Return the likeliest law (binomial) of plays."""
    doubts, said, kept = _columns(plays)
    came = np.where(TURNS <= EARLY, kept, (said + kept) / 2)

    def unlikely(logs: np.ndarray) -> float:
        p = law_says(doubts, np.exp(logs))
        return -float(np.mean(came * np.log(p) + (1 - came) * np.log(1 - p)))

    return np.exp(minimize(unlikely, np.log(start), method="BFGS").x)


def law_says(doubts: np.ndarray, law: np.ndarray) -> np.ndarray:
    """Chances (n, ROUNDS - 1) by a law after rounds 2, 3, ..."""
    first = np.linalg.norm(doubts[:, :3], axis=1)[:, None]
    sd = np.minimum(left(doubts[:, None], TURNS, law), first)
    return np.interp(np.log(sd), np.log(SDS), _chances())


@cache
def _chances() -> np.ndarray:
    return np.clip([within(float(sd)) for sd in SDS], 1e-6, 1 - 1e-6)


def _columns(plays: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sds (n, 4), and what was said and kept after rounds 2, 3, ... (n, ROUNDS - 1)."""
    at = len(WORDS)
    return plays[:, :at], plays[:, at + 1 : at + ROUNDS], plays[:, at + ROUNDS + 1 :]


def shown(plays: np.ndarray, law: np.ndarray) -> list[str]:
    """What the law says against what the loop said and what came true, by what the law says."""
    doubts, said, kept = _columns(plays)
    p = law_says(doubts, law)
    lines = ["| the law says | plays and rounds | on average | the loop said | came true |",
             "|---|---|---|---|---|"]  # fmt: skip
    for low, high in pairwise(BETWEEN):
        some = (p >= low) & (p < high)
        means = " | ".join(f"{x[some].mean():.1%}" for x in (p, said, kept))
        lines.append(f"| {low:.0%} to {high:.0%} | {some.sum()} | {means} |")
    return lines


def write(plays: np.ndarray, path: Path) -> None:
    """Write the law, and print how well the plays tell it."""
    law = fit(plays)
    doubts = plays[:, : len(WORDS)]
    rng = np.random.default_rng(0)
    again = [fit(plays[rng.integers(len(plays), size=len(plays))], law) for _ in range(AGAIN)]
    lns = np.log([left(doubts[:, None], TURNS, one) for one in again])
    print(f"sd of ln by plays drawn anew: {np.sqrt(np.mean(np.var(lns, axis=0))):.3f}")
    print("\n".join(shown(plays, law)))
    remarks = [
        "number,value",
        f"# Made by python -m tests.orders.response from {len(plays)} plays; see that module, and",
        "# response.py for what the numbers mean.",
    ]
    lines = [f"{name},{value:.4f}" for name, value in zip(LAW, law, strict=True)]
    path.write_text("\n".join([*remarks, *lines]) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("task", choices=("play", "fit"))
    parser.add_argument("plays_file", type=Path)
    parser.add_argument("law", type=Path, nargs="?")
    parser.add_argument("--plays", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args()
    if given.task == "fit":
        write(np.loadtxt(given.plays_file, delimiter=","), given.law)
        return
    with given.plays_file.open("a", encoding="utf-8") as file:
        for n in range(given.first, given.first + given.plays):
            p = play(world(n), FIRST_SEED + n)
            cells = [*(f"{x:.4f}" for x in (*p.doubts, *p.said)), *(str(int(k)) for k in p.kept)]
            print(",".join(cells), file=file, flush=True)


if __name__ == "__main__":
    main()
