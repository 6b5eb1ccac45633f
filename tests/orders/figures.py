"""Are the confidences of an order right? Fresh deliveries, the rule of thumb, and time.

    python -m tests.orders.figures [FILE]

prints the tables of RESULTS.md and writes them to FILE. It takes some minutes on two cores.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed
from joblib.externals.loky import get_reusable_executor

from optimizer.arrangement.pattern import Pattern
from optimizer.orders.build import build, on_target
from optimizer.orders.clutch import Clutch
from optimizer.orders.deliver import Making
from optimizer.orders.joint import Way, lay_out
from optimizer.orders.nominal import candidates
from optimizer.orders.onhand import none_on_hand
from optimizer.orders.order import cost_of
from optimizer.orders.quantity import NEVER, Share, confidence, smallest
from optimizer.orders.simulate import Study, simulate
from optimizer.orders.unpack import DEALING, Draw
from tests.orders.cases import candidate, clutch, size

ASKED = 0.95
PLAN_SEED, FRESH_SEED = 0, 20260401
PLAN_DRAWS, FRESH_DRAWS = 1000, 1000
CHUNK = 25


@dataclass(frozen=True)
class Scenario:
    """What is bought, and for what."""

    name: str
    study: Study


def scenario(name: str, sets: int, tolerance_n: float, of: str, pattern: Pattern, pack: int):
    making, to = Making(), clutch(sets, tolerance_n)
    sold = size(of)
    sold = replace(sold, pack=pack, price=sold.price * pack / sold.pack)
    chosen = candidate(sold, pattern, to, making)
    return Scenario(name, Study(to, (chosen,), making, none_on_hand()))


SCENARIOS = (
    ("10 sets, 7 singles + 1 pair, +- 22 N", 10, 22.0, "V18-100", Pattern(7, 1), 10),
    ("4 sets, 9 singles + 1 pair, +- 30 N", 4, 30.0, "V22-125", Pattern(9, 1), 10),
    ("6 sets, 8 singles, nominal 20 N off, +- 36 N", 6, 36.0, "V20-110", Pattern(8), 10),
)


def fresh(study: Study, quantities: list[int], seed: int, numbers: range) -> list[int]:
    """Count deliveries in which each quantity builds all sets, dealt in full every time."""
    packs = study.packs(study.candidates[0])
    good = [0] * len(quantities)
    for number in numbers:
        draw = Draw(seed, number)
        on = lay_out(Way(study, 0, 0), draw, max(quantities) * packs.pack)
        for at, k in enumerate(quantities):
            if k >= packs.least:
                built = build(on, packs.discs(k), draw.rng(DEALING, k))
                good[at] += on_target(built, study.clutch)
    return good


def check(study: Study, quantities: list[int], draws: int, workers: int = -1) -> list[Share]:
    ranges = [range(low, min(low + CHUNK, draws)) for low in range(0, draws, CHUNK)]
    counts = Parallel(n_jobs=workers)(
        delayed(fresh)(study, quantities, FRESH_SEED, numbers) for numbers in ranges
    )
    return [Share.of(int(n), draws) for n in np.sum(counts, axis=0)]


def rule_of_thumb(study: Study) -> int:
    """Packs of half as many discs again as the stacks need."""
    chosen = study.candidates[0]
    needed = chosen.pattern.discs * study.clutch.shoes * study.clutch.sets
    return int(np.ceil(1.5 * needed / chosen.size.pack))


def said(share: Share) -> str:
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def confidences() -> list[str]:
    lines = [
        "## Fresh deliveries",
        "",
        f"Planned with {PLAN_DRAWS} deliveries of seed {PLAN_SEED} for {ASKED:.0%}; judged by "
        f"{FRESH_DRAWS} of seed {FRESH_SEED}, every set dealt in full.",
        "",
        "| scenario | packs | planned | fresh | one pack less | 50 % more: packs | fresh | "
        "cost planned / 50 % more |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for args in SCENARIOS:
        of = scenario(*args)
        [[outcome]] = simulate([of.study], PLAN_DRAWS, PLAN_SEED)
        at = smallest(outcome.packs, ASKED)
        if at == NEVER:
            lines.append(f"| {of.name} | none does | | | | | | |")
            continue
        thumb = rule_of_thumb(of.study)
        planned, less, more = check(of.study, [at, at - 1, thumb], FRESH_DRAWS)
        sold = of.study.candidates[0].size
        lines.append(
            f"| {of.name} | {at} of {sold.pack} | {said(confidence(outcome.packs, at))} | "
            f"{said(planned)} | {said(less)} | {thumb} | {said(more)} | "
            f"{cost_of(sold, at):.0f} / {cost_of(sold, thumb):.0f} |"
        )
        print(lines[-1], file=sys.stderr)
    return lines


def timing() -> list[str]:
    making, to = Making(), clutch(10)
    studies = []
    for name in ("V18-100", "V20-110", "V22-125"):
        found = candidates((size(name, pack=10),), _wide(to), making)[:4]
        studies.append(Study(to, tuple(found), making, none_on_hand()))
    get_reusable_executor().shutdown()  # ends the workers, so that their time is counted
    started, load, used = time.monotonic(), os.getloadavg()[0], _workers_seconds()
    simulate(studies, 400, PLAN_SEED)
    seconds = time.monotonic() - started
    get_reusable_executor().shutdown()
    used = _workers_seconds() - used
    return [
        "## Time",
        "",
        f"3 sizes x {min(len(s.candidates) for s in studies)} patterns x 10 sets x 400 deliveries "
        f"on {os.cpu_count()} cores: {seconds:.0f} s by the clock with a load of the machine of "
        f"{load:.1f} before, {used:.0f} s of processor time in all workers together.",
    ]


def _workers_seconds() -> float:
    """Processor time of all worker processes that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime


def _wide(to: Clutch) -> Clutch:
    return replace(to, rules=replace(to.rules, free_height_mm=None))


def main() -> None:
    lines = ["# Orders: are they right?", "", "Made by `python -m tests.orders.figures FILE`.", ""]
    lines += [*confidences(), "", *timing()]
    text = "\n".join(lines) + "\n"
    print(text)
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
