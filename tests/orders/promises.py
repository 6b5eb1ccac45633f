"""Is what orders promise of a set kept? Full plays of the learning loop on benches not tabulated.

    python -m tests.orders.promises [--plays N] [FILE]

Every world is played on seeds never used for `bench_response.csv`; said is the chance by its law,
kept the share that is truly within after so many rounds of gauge and swap. Beside it stands the
band that 95 of 100 such counts lie in if what is said is true, and the one that counts the law's
own doubt (`LAW_SD`) in, as the promise of an order does.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed
from scipy.stats import binom, norm

from optimizer.orders.response import LAW_SD, ROUNDS, STOP_AT, left_over, within
from tests.orders.response import stack_sds
from tests.simulator.play import turns
from tests.simulator.setup import WIDTH_N, job_for
from tests.simulator.truth import Truth, World

FIRST_SEED = 50_000
SHOWN = (1, 2, 3, 5, ROUNDS)
#: points of the law's doubt
POINTS = 40
WORLDS = {
    "sharp, settled edges, dial gauge": World(
        True, 0.002, sharp_scatter=0.012, place_sd_mm=0.005, gauge=0.6
    ),
    "sharp + micrometer, dial gauge": World(True, 0.002, place_sd_mm=0.005),
    "sharp + caliper": World(True, 0.010, place_sd_mm=0.02),
    "dressed + micrometer, flats to 20 um": World(False, 0.002, flat_sd_mm=0.02, place_sd_mm=0.005),
    "dressed + caliper, a coarse gauge": World(
        False, 0.010, flat_sd_mm=0.02, place_sd_mm=0.02, gauge=1.5
    ),
}


@dataclass(frozen=True)
class Kept:
    """Whether one set is truly within after rounds 1, 2, ... and what is not known of it."""

    within: tuple[bool, ...]
    doubts: tuple[float, ...]


def play(world: World, seed: int) -> Kept:
    truth, job = Truth.draw(world, seed), job_for(world)
    found = []
    for turn in islice(turns(truth, job, STOP_AT), ROUNDS):
        found.append(truth.spread_n(turn.stacks) <= WIDTH_N)
        if turn.advice.kind in ("stop", "leave"):
            break
    return Kept((*found, *[found[-1]] * (ROUNDS - len(found))), stack_sds(truth, job))


def table(name: str, played: list[Kept]) -> list[str]:
    doubts = tuple(np.mean([k.doubts for k in played], axis=0).tolist())
    lines = []
    for rounds in SHOWN:
        sd, doubt = left_over(doubts, rounds), LAW_SD if rounds > 1 else 0.0
        kept = sum(k.within[rounds - 1] for k in played)
        plain = band(sd, 0.0, len(played))
        whole = band(sd, doubt, len(played))
        inside = ["yes" if low <= kept <= high else "NO" for low, high in (plain, whole)]
        low, high = (f"{end / len(played):.1%}" for end in plain)
        lines.append(
            f"| {name} | {rounds} | {within(sd):.1%} | {kept / len(played):.1%} | "
            f"{low} to {high} | {inside[0]} | {inside[1]} |"
        )
    return lines


def band(sd: float, doubt: float, plays: int) -> tuple[int, int]:
    """Counts between which 95 % lie: binomial, its chance by an sd whose ln is in `doubt`."""
    points = norm.ppf((np.arange(POINTS) + 0.5) / POINTS)
    chances = [within(sd * np.exp(doubt * z)) for z in points]
    below = np.mean([binom.cdf(np.arange(plays + 1), plays, p) for p in chances], axis=0)
    return int(np.searchsorted(below, 0.025)), int(np.searchsorted(below, 0.975))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("file", type=Path, nargs="?")
    parser.add_argument("--plays", type=int, default=60)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    lines = [
        f"{given.plays} full plays a bench, of seeds from {FIRST_SEED} on.",
        "",
        "| bench | rounds | said | kept | band | inside | with the law's own doubt |",
        "|---|---|---|---|---|---|---|",
    ]
    for name, world in WORLDS.items():
        played = Parallel(n_jobs=given.workers)(
            delayed(play)(world, FIRST_SEED + k) for k in range(given.plays)
        )
        lines += table(name, played)
        print("\n".join(lines[-len(SHOWN) :]), flush=True)
    if given.file is not None:
        given.file.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
