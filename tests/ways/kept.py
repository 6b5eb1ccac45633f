"""Are promised minutes kept? `python -m tests.ways.kept --bags 30 --draws 3`

Every bag is drawn with a hidden truth that knows friction and a gauge whose zero is off, of which
no way knows. What the ways promise of the bag, and how each then goes on the hidden bench.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.errors import CannotBuildError
from optimizer.estimate.learn import learn
from optimizer.estimate.prior import FLAT_SD, load_per_flat
from optimizer.match.workspace import posed
from optimizer.mechanics.disc import Array
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import Index
from optimizer.model.job import Instrument, Job
from optimizer.model.stack import Stack, shim_totals
from optimizer.units import N_PER_LBF
from optimizer.ways.first import second_look, ways_from
from optimizer.ways.hidden import Believed
from optimizer.ways.play import play
from optimizer.ways.start import StartingPoint
from tests.simulator.setup import SHOES, bag_for, job_for, numbers_of
from tests.simulator.tables import WORLDS
from tests.simulator.truth import TRAVEL_MM, Truth

STOP_AT = 0.9


@dataclass
class OnTruth:
    """The hidden truth of the simulator behind what a way does on a bench."""

    truth: Truth
    shims_mm: Array = field(default_factory=lambda: np.zeros(SHOES))
    stands: dict[int, Stack] = field(default_factory=dict)

    def build(self, packs: Stack, anew, shoe=None, travel_mm=None) -> None:
        (discs,) = numbers_of((packs,))
        share, edges = np.array(anew), self.truth.edges[discs].copy()
        self.truth.build(discs)
        fresh = self.truth.edges[discs]
        self.truth.edges[discs] = np.sqrt(1 - share) * edges + np.sqrt(share) * fresh
        if shoe is not None:
            self.stands[shoe] = packs

    def read_n(self, packs: Stack, shoe, travel_mm=None) -> float:
        (discs,) = numbers_of((packs,))
        at = None if shoe is None else shoe - 1
        return self.truth.read_n(discs, TRAVEL_MM if travel_mm is None else travel_mm, at)

    def loads_n(self, on_gauge: bool) -> Array:
        stacks = [numbers_of((packs,))[0] for _, packs in sorted(self.stands.items())]
        return np.array([self.truth.load_n(stack, shoe=s) for s, stack in enumerate(stacks)])

    def press_n(self, disc: Index, at_mm: Array) -> Array:
        loads = []
        for d, at in zip(disc, at_mm, strict=True):
            one = np.array([d])
            self.truth.build(one)
            loads.append(self.truth.read_n(one, float(at)))
        return np.array(loads)

    def measure(self, disc: Index, tool: Instrument) -> Array:
        true = self.truth.true
        lengths = np.stack([true.thickness_mm, true.cone_height_mm], 1)[disc]
        sd = (tool.thickness_sd_mm, tool.height_sd_mm)
        return lengths + self.truth.rng.normal(0.0, sd, lengths.shape)

    def dress(self, disc: Index, job: Job) -> tuple[Array, Array]:
        """Dress discs as unevenly as `Hidden.dress` takes it, and measure the flats."""
        truth, width = self.truth, job.disc.default_flat_mm
        drawn = truth.rng.standard_normal((2, len(disc)))
        flat = truth.true.flat_mm.copy()
        flat[disc] = np.maximum(width * (1 + FLAT_SD * drawn[0]), 0.1 * width)
        seen = np.maximum(flat[disc] + job.instrument.flat_sd_mm * drawn[1], 0.01)
        true, world = replace(truth.true, flat_mm=flat), replace(truth.world, sharp=False)
        self.truth, self.stands = replace(truth, true=true, world=world), {}
        doubt: Array = job.instrument.flat_sd_mm * load_per_flat(true.take(disc), en16984)
        return seen, doubt


def main() -> None:
    """Print a table of promised and actual minutes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bags", type=int, default=30)
    parser.add_argument("--draws", type=int, default=3, help="benches a bag is promised by")
    parser.add_argument("--world", default="dressed + micrometer", choices=list(WORLDS))
    parser.add_argument("--ways", nargs="*", default=["match as measured"])
    parser.add_argument("--load-tolerance", type=float, default=10, help="lbf about the target")
    asked = parser.parse_args()
    world = WORLDS[asked.world]
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    for bag in range(asked.bags):
        job = job_for(world)
        tolerance = asked.load_tolerance * N_PER_LBF
        job = replace(job, target=replace(job.target, load_tolerance_n=tolerance))
        start = StartingPoint.of(posed(job, bag_for(Truth.draw(world, bag))))
        totals = shim_totals(start.shims)
        learned = learn(start.task, (), totals)
        believed = Believed.of(learned)
        for way in ways_from(start, second_look(start)):
            if not any(way.name.startswith(word) for word in asked.ways):
                continue
            benches = [believed.draw(np.zeros(SHOES), bag, k) for k in range(asked.draws)]
            try:
                said = [play(start, way, bench, STOP_AT) for bench in benches]
                true = play(start, way, OnTruth(Truth.draw(world, bag)), STOP_AT)  # type: ignore[arg-type]
            except CannotBuildError:
                print(f"bag {bag:3d} {way.name}: leads to no set", flush=True)
                continue
            rows.setdefault(way.name, []).append(
                (
                    float(np.mean([p.minutes for p in said])),
                    true.minutes,
                    float(np.mean([p.said for p in said])),
                    float(true.within),
                )
            )
            print(f"bag {bag:3d} {way.name}: {rows[way.name][-1]}", flush=True)
    print("\n| discs | way | bags | promised | took | took / promised | chance said | within |")
    print("|---|---|---|---|---|---|---|---|")
    for name, each in rows.items():
        promised, took, said, within = np.array(each).T
        ratio = took.mean() / promised.mean()
        se = np.std(took - ratio * promised, ddof=1) / np.sqrt(len(took)) / promised.mean()
        print(
            f"| {asked.world} | {name} | {len(each)} | {promised.mean():.1f} | {took.mean():.1f} | "
            f"{ratio:.2f} +- {1.96 * se:.2f} | {said.mean():.3f} | {within.mean():.3f} |"
        )


if __name__ == "__main__":
    main()
