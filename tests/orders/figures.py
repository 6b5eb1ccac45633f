"""Are the confidences of an order right? Fresh deliveries, the rule of thumb, shims, and time.

    python -m tests.orders.figures [--fresh N] [FILE]

prints the tables of RESULTS.md and writes them to FILE. It takes some minutes on two cores. What
is checked is how often sets are dealt and on target; that they end truly within after the work
on the bench is checked by `python -m tests.orders.promises`.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed
from joblib.externals.loky import get_reusable_executor

from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.pattern import Pattern
from optimizer.orders.build import BuiltSets, DiscStream, build, on_target
from optimizer.orders.choose import cart
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.joint import JointPart, lay_out
from optimizer.orders.judging import SETTLED_TIMES, ConfidenceGoal, JudgedCandidate, more, settle
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import candidates
from optimizer.orders.onhand import none_on_hand
from optimizer.orders.quantity import NEVER, Proportion, confidence, smallest
from optimizer.orders.simulate import simulate
from optimizer.orders.study import Study
from optimizer.orders.unpack import DEALING, Draw
from tests.orders.cases import candidate, clutch, installed, size

ASKED = 0.95
WISH = ConfidenceGoal(ASKED, draws=1000, seed=0)
#: the fresh deliveries, of which the first are shown alone as well
FRESH_SEED, FRESH_DRAWS, FIRST_DRAWS = 20260401, 3000, 1000
CHUNK = 25
#: a spread that is always kept, so that the promise is that of dealing and load alone
ANY_N = 500.0
#: by how much an installed room is longer than a nominal stack wants, and the shims for it
SPARE_MM, SHIM_STEPS_MM = 0.1, (0.05, 0.025)


@dataclass(frozen=True)
class Scenario:
    """What is bought, and for what; `truly` where the maker is not as was assumed."""

    name: str
    study: Study
    truly: Study | None = None


def scenario(name: str, sets: int, tolerance_n: float, of: str, pattern: Pattern, pack: int):
    making, to = Manufacture(), clutch(sets, tolerance_n, spread_n=ANY_N)
    sold = size(of, pack)
    chosen = candidate(sold, pattern, to, making)
    return Scenario(name, Study(to, (chosen,), making, none_on_hand()))


def scenarios() -> list[Scenario]:
    plain = [
        scenario("10 sets, 7 singles + 1 pair, +- 22 N", 10, 22.0, "V18-100", Pattern(7, 1), 50),
        scenario("the same in packs of 10", 10, 22.0, "V18-100", Pattern(7, 1), 10),
        scenario("4 sets, 9 singles + 1 pair, +- 30 N", 4, 30.0, "V22-125", Pattern(9, 1), 10),
        scenario("6 sets, 8 singles, nominal 20 N off", 6, 36.0, "V20-110", Pattern(8), 10),
    ]
    room = installed(SPARE_MM, (0.0, 0.05, 0.1, 0.15, 0.2))
    room = replace(room, clutch=replace(room.clutch, spread_n=ANY_N))
    bias = replace(plain[0].study, making=replace(Manufacture(), lot_share=1.0))
    return [
        *plain,
        Scenario("4 sets in a room, shims in steps of 0.05 mm", room),
        Scenario("10 sets, lots that scatter twice as far, not as assumed", plain[0].study, bias),
    ]


@dataclass(frozen=True)
class Fresh:
    """What B fresh deliveries built, dealt in full every time.

    `good` (B, Q) tells by quantity whether all sets are there and truly on target; `worn`
    (B) whether those of the first quantity match, as measured, at the worn travel as well.
    """

    good: np.ndarray
    worn: np.ndarray

    @property
    def shares(self) -> list[Proportion]:
        return [Proportion.of(int(n), len(self.good)) for n in self.good.sum(0)]

    @property
    def worn_share(self) -> Proportion:
        return Proportion.of(int(self.worn.sum()), len(self.worn))

    def pairs(self, one: int, other: int) -> tuple[int, int]:
        """Deliveries that do with one quantity and not with the other, and the reverse."""
        a, b = self.good[:, one], self.good[:, other]
        return int((a & ~b).sum()), int((b & ~a).sum())


def fresh(study: Study, quantities: list[int], seed: int, numbers: range) -> np.ndarray:
    """Deal fresh deliveries: columns of `Fresh.good`, then `Fresh.worn`."""
    packs = study.packs(study.candidates[0])
    rows = np.zeros((len(numbers), len(quantities) + 1), dtype=bool)
    for row, number in zip(rows, numbers, strict=True):
        draw = Draw(seed, number)
        on = lay_out(JointPart(study, 0, 0), draw, max(quantities) * packs.pack)
        for at, k in enumerate(quantities):
            built = build(on, packs.discs(k), draw.rng(DEALING, k)) if k >= packs.least else None
            row[at] = on_target(built, study.clutch)
            if at == 0 and row[at]:
                row[-1] = matches_worn(on, built)
    return rows


def matches_worn(on: DiscStream, built: BuiltSets) -> bool:
    """Whether every set matches at the worn travel, solved for with the discs as measured."""
    p = packets(on.unpacked.believed, built.members, on.clutch.model)
    load = stack_load(p, on.clutch.datum, on.clutch.worn_travel_mm, built.shim_mm)
    return bool(np.ptp(load, axis=1).max() <= on.clutch.spread_n)


def check(
    study: Study, quantities: list[int], draws: int, workers: int = -1, first: int = 0
) -> Fresh:
    ranges = [range(low, min(low + CHUNK, draws)) for low in range(first, draws, CHUNK)]
    rows = np.concatenate(
        Parallel(n_jobs=workers)(
            delayed(fresh)(study, quantities, FRESH_SEED, numbers) for numbers in ranges
        )
    )
    return Fresh(rows[:, :-1], rows[:, -1])


def planned(study: Study) -> JudgedCandidate:
    """Judge a study as `evenstack order` judges the one it proposes."""
    [judged] = more([JudgedCandidate(study)], WISH.draws, WISH)
    return settle(judged, WISH)


def rule_of_thumb(study: Study) -> int:
    """Packs of half as many discs again as the stacks need."""
    chosen = study.candidates[0]
    needed = chosen.pattern.discs * study.clutch.shoes * study.clutch.sets
    return int(np.ceil(1.5 * needed / chosen.size.step))


def said(share: Proportion) -> str:
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def confidences(fresh_draws: int) -> list[str]:
    lines = [
        "## Fresh deliveries",
        "",
        f"Planned with {WISH.draws} deliveries of seed {WISH.seed} for {ASKED:.0%}, and "
        f"{SETTLED_TIMES} times as many where those cannot tell the quantity from one pack less; "
        f"judged by {fresh_draws} of seed {FRESH_SEED}, every set dealt in full. The last column: "
        "of the same fresh deliveries, those that do with the plan and not with one pack less, "
        "and the reverse.",
        "",
        f"| scenario | packs | planned | fresh, the first {FIRST_DRAWS} | fresh, all "
        f"{fresh_draws} | one pack less: planned | fresh, all | only plan / only less |",
        "|---|---|---|---|---|---|---|---|",
    ]
    thumb_lines = [
        "## Against buying half as much again as is needed",
        "",
        "| scenario | planned: packs | cost | fresh | 50 % more: packs | cost | fresh |",
        "|---|---|---|---|---|---|---|",
    ]
    worn_lines = [
        "## Match on a worn drum",
        "",
        "The orders above deal for the match at the travel. How many of the fresh deliveries "
        "still do when the same sets, not dealt anew, must be within the spread tolerance of "
        "9 N at the worn travel as well:",
        "",
        "| scenario | at the travel | worn as well |",
        "|---|---|---|",
    ]
    for of in scenarios():
        judged = planned(of.study)
        at = smallest(judged.outcome.packs, ASKED)
        if at == NEVER:
            lines.append(f"| {of.name} | none does | | | | | | |")
            continue
        thumb = rule_of_thumb(of.study)
        truly = of.truly or of.study
        found = check(truly, [at, at - 1, thumb], min(FIRST_DRAWS, fresh_draws))
        later = check(truly, [at, at - 1], max(fresh_draws, FIRST_DRAWS + 1), first=FIRST_DRAWS)
        every = Fresh(
            np.concatenate([found.good[:, :2], later.good]), np.append(found.worn, later.worn)
        )
        plan, _, rule = found.shares
        packs = judged.packs
        own, other = (confidence(judged.outcome.packs, k) for k in (at, at - 1))
        only = " / ".join(map(str, every.pairs(0, 1)))
        of_all, less = every.shares
        lines.append(
            f"| {of.name} | {at} of {packs.pack} | {said(own)} | {said(plan)} | {said(of_all)} | "
            f"{said(other)} | {said(less)} | {only} |"
        )
        costs = [cart(judged.ware, k * packs.pack).cost for k in (at, thumb)]
        thumb_lines.append(
            f"| {of.name} | {at} of {packs.pack} | {costs[0]:.0f} | {said(plan)} | "
            f"{thumb} | {costs[1]:.0f} | {said(rule)} |"
        )
        worn_lines.append(f"| {of.name} | {said(of_all)} | {said(every.worn_share)} |")
        print(lines[-1], file=sys.stderr)
    return [*lines, "", *thumb_lines, "", *worn_lines]


def shims() -> list[str]:
    lines = [
        "## Shims",
        "",
        "4 sets, 7 singles + 1 pair, +- 22 N, counted from an installed length; packs of 10, "
        f"{WISH.draws} deliveries. With shims the room is {SPARE_MM} mm longer and a stack may "
        f"stand on any multiple of the step up to {2 * SPARE_MM} mm.",
        "",
        "| shims | packs for 90 % | for 95 % | share of deliveries that do in the fewest packs |",
        "|---|---|---|---|",
    ]
    rows = [("none", installed(0.0, (0.0,)))]
    for step in SHIM_STEPS_MM:
        every = tuple(float(s) for s in np.arange(0, 2 * SPARE_MM + step / 2, step))
        rows.append((f"in steps of {step} mm", installed(SPARE_MM, every)))
    for name, study in rows:
        [[outcome]] = simulate([study], WISH.draws, WISH.seed)
        packs = study.packs(study.candidates[0])
        least = f"{said(confidence(outcome.packs, packs.least))} in {packs.least}"
        for_90, for_95 = (smallest(outcome.packs, asked) for asked in (0.9, ASKED))
        wanted = " | ".join("none does" if k == NEVER else str(k) for k in (for_90, for_95))
        lines.append(f"| {name} | {wanted} | {least} |")
    return lines


def timing() -> list[str]:
    making, to = Manufacture(), clutch(10)
    studies = []
    for name in ("V18-100", "V20-110", "V22-125"):
        found = candidates((size(name, pack=10),), _wide(to), making)[:4]
        studies.append(Study(to, tuple(found), making, none_on_hand()))
    get_reusable_executor().shutdown()  # ends the workers, so that their time is counted
    started, load, used = time.monotonic(), os.getloadavg()[0], _workers_seconds()
    simulate(studies, 400, WISH.seed)
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


def _wide(to: OrderedClutch) -> OrderedClutch:
    return replace(to, rules=replace(to.rules, free_height_mm=None))


def main() -> None:
    lines = ["# Orders: are they right?", "", "Made by `python -m tests.orders.figures FILE`.", ""]
    parser = argparse.ArgumentParser()
    parser.add_argument("file", type=Path, nargs="?")
    parser.add_argument("--fresh", type=int, default=FRESH_DRAWS)
    given = parser.parse_args()
    lines += [*confidences(given.fresh), "", *shims(), "", *timing()]
    text = "\n".join(lines) + "\n"
    print(text)
    if given.file is not None:
        given.file.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
