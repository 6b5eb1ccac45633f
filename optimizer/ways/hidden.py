"""A bench as it may truly be: discs, load factor, shoes and edges drawn from what is believed.

Every way is played on the same draws, and what chance brings (an instrument's error, how edges
settle) is drawn from a stream of its own for each kind, so that ways differ by what they do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.estimate.direct import alone
from optimizer.estimate.gauge import press
from optimizer.estimate.learn import Learned
from optimizer.estimate.prior import FLAT_SD, load_per_flat, measurement_noise
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import stack_load
from optimizer.model.job import Instrument, Job
from optimizer.model.stack import Packet, Stack

#: streams of chance, one for each thing that is done; the draw of the bench itself is the first
#: (a seed with a nought at its end is the seed without it)
BENCH, EDGES, GAUGE, DRESSED, MEASURED, PRESSED = STREAMS = range(1, 7)


@dataclass(frozen=True)
@frozen_arrays
class Believed:
    """What benches are drawn from: the state as learned, and a root of its covariance."""

    learned: Learned
    root: Array

    @staticmethod
    def of(learned: Learned) -> Believed:
        """Take a state of knowledge."""
        values, vectors = np.linalg.eigh(learned.covariance)
        return Believed(learned, vectors * np.sqrt(np.maximum(values, 0.0)))

    def draw(self, shims_mm: Array, seed: int, number: int) -> Hidden:
        """Draw one bench; the same `number` is the same bench."""
        learned, rig = self.learned, self.learned.rig
        streams = {kind: np.random.default_rng([seed, number, kind]) for kind in STREAMS}
        rng = streams[BENCH]
        state = self.root @ rng.standard_normal(self.root.shape[1])
        unseen = rng.normal(0.0, rig.place_sd_mm) * (not rig.in_clutch)
        shift, builds = state[: rig.durable], learned.build_mm.copy()
        builds += state[rig.durable : rig.durable + len(builds)]
        hidden = Hidden(rig.shifted(shift), unseen, shims_mm, streams)
        for shoe, built in learned.standing.shoes.items():
            hidden.stand(shoe, built.packs, float(sum(builds[b] for b in set(built.builds))))
        return hidden


@dataclass
class Hidden:
    """One bench: `rig` holds what is true.

    `unseen_mm` (S) is what only the clutch itself presses further, `shims_mm` (S) lie there now;
    `edges` is by how much (mm) each packet yields further as its edges settled when it was built;
    `stands` the packets under each shoe.
    """

    rig: Task
    unseen_mm: Array
    shims_mm: Array
    streams: Mapping[int, np.random.Generator]
    edges: dict[Packet, float] = field(default_factory=dict)
    stands: dict[int, Stack] = field(default_factory=dict)

    def stand(self, shoe: int, packs: Stack, yields_mm: float) -> None:
        """Say what stands already and by how much it yields further."""
        self.stands[shoe] = packs
        self.edges.update({packet: yields_mm / len(packs) for packet in packs})

    def build(
        self,
        packs: Stack,
        anew: Sequence[float],
        shoe: int | None = None,
        travel_mm: float | None = None,
    ) -> None:
        """Put a stack or a sub-stack together: shares `anew` (P) of its edges settle anew."""
        rig, at = self.rig, (shoe or 1) - 1
        travel = np.array([rig.travel_mm[at] if travel_mm is None else travel_mm])
        shims = np.array([self.shims_mm[at] if shoe else 0.0])
        members = rig.members((packs,))
        scatter = press(rig, members, np.array([at]), travel, shims).scatter_mm2[0]
        drawn = self.streams[EDGES].standard_normal(len(packs))
        for packet, share, variance, z in zip(packs, anew, scatter, drawn, strict=True):
            kept = np.sqrt(1 - share) * self.edges.get(packet, 0.0)
            self.edges[packet] = float(kept + np.sqrt(share * variance) * z)
        if shoe is not None:
            self.stands[shoe] = packs

    def read_n(self, packs: Stack, shoe: int | None, travel_mm: float | None = None) -> float:
        """Show what the gauge says of a stack as it stands, or of a sub-stack at its travel."""
        gauge, rng = self.rig.gauge, self.streams[GAUGE]
        off, noise = rng.normal(0.0, (gauge.travel_stop_mm, gauge.repeatability_n))
        load = self._load(packs, shoe, float(off), travel_mm) + noise
        return float(np.round(load / gauge.resolution_n) * gauge.resolution_n)

    def loads_n(self, on_gauge: bool) -> Array:
        """Return the true load of every stack (S), as the gauge presses it or in the clutch."""
        unseen = self.unseen_mm * (not on_gauge)
        return np.array(
            [
                self._load(packs, shoe, float(unseen[shoe - 1]), None)
                for shoe, packs in sorted(self.stands.items())
            ]
        )

    def press_n(self, disc: Index, at_mm: Array) -> Array:
        """Press discs (K) one by one by `at_mm` (K), their edges settled for this once."""
        one = alone(self.rig, disc, at_mm)
        # what edges and gauge bring to a reading is in its noise
        drawn = self.streams[PRESSED].normal(0.0, np.sqrt(one.noise_n2))
        return one.load_n + drawn

    def measure(self, disc: Index, tool: Instrument) -> Array:
        """Measure thickness and cone height (K, 2) of discs once."""
        belief = self.rig.belief
        noise = measurement_noise(tool, belief.overall[disc], np.ones(len(disc)))
        true = np.stack([belief.thickness_mm[disc], belief.cone_height_mm[disc]], axis=1)
        root = np.linalg.cholesky(noise + 1e-18 * np.eye(2))
        # every disc has its own draw, whichever others are measured with it
        drawn = self.streams[MEASURED].standard_normal((len(belief), 2))[disc]
        measured: Array = true + np.einsum("kij,kj->ki", root, drawn)
        return measured

    def dress(self, disc: Index, job: Job) -> tuple[Array, Array]:
        """Dress discs to the usual flat; return the flats (K) as measured and their sd in load.

        How even a hand dresses is taken as `FLAT_SD`, an assumption.
        """
        rng, width = self.streams[DRESSED], job.disc.default_flat_mm
        n = len(self.rig.belief)
        true = np.maximum(width * (1 + FLAT_SD * rng.standard_normal(n)), 0.1 * width)[disc]
        seen = np.maximum(true + job.instrument.flat_sd_mm * rng.standard_normal(n)[disc], 0.01)
        belief = self.rig.belief
        flat, scatter = belief.flat_mm.copy(), belief.scatter.copy()
        flat[disc], scatter[disc] = true, job.model.dressed_scatter
        self.rig = self.rig.believing(replace(belief, flat_mm=flat, scatter=scatter))
        self.edges, self.stands = {}, {}
        sd: Array = job.instrument.flat_sd_mm * load_per_flat(
            self.rig.discs.take(disc), self.rig.model.law
        )
        return seen, sd

    def _load(
        self, packs: Stack, shoe: int | None, further_mm: float, travel_mm: float | None
    ) -> float:
        """Load in N of packets as they settled, `further_mm` beyond their travel."""
        rig, at = self.rig, (shoe or 1) - 1
        datum = rig.datum.under(np.array([at]), len(rig.travel_mm))
        travel = float(rig.travel_mm[at]) if travel_mm is None else travel_mm
        travel += further_mm - sum(self.edges[packet] for packet in packs)
        p = rig.packets(rig.members((packs,)))
        shims = self.shims_mm[at] if shoe else 0.0
        return float(stack_load(p, datum, travel, shims)[0])
