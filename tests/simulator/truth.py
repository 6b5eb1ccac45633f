"""A bench that hides the truth: it knows the mechanics and nothing of what is believed.

Every number below is invented; the sizes of errors are those the documentation names.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import stack_load
from optimizer.units import N_PER_LBF

OD_MM, ID_MM, CONE_MM, FLAT_MM = 20.0, 10.2, 0.50, 0.15
#: so that nine in series carry some 200 lbf at the travel, sharp or dressed
SHARP_THICKNESS_MM, DRESSED_THICKNESS_MM = 1.12, 1.07
SHOES, SERIES = 3, 9
TRAVEL_MM, SEATING_N = 1.524, 6 * N_PER_LBF
#: from disc to disc of one lot
THICKNESS_SD_MM, CONE_SD_MM = 0.008, 0.015
MODULUS_SD = 0.015
RESOLUTION_N, NOISE_N, TRAVEL_STOP_MM = N_PER_LBF, 0.2 * N_PER_LBF, 0.002
ZERO_SD_N = 0.5 * N_PER_LBF
FRICTION = 0.02


@dataclass(frozen=True)
class World:
    """What one series of trials is like; the gauge reads in the clutch, on its own shoes."""

    sharp: bool
    instrument_sd_mm: float
    stiffness_sd: float = 0.01
    sharp_scatter: float = 0.02
    dressed_scatter: float = 0.004
    discs: int = 40
    friction: float = FRICTION
    flat_sd_mm: float = 0.0
    place_sd_mm: float = 0.0
    #: how coarse the gauge is: its step, noise and travel stop, as multiples of the usual
    gauge: float = 1.0

    @property
    def scatter(self) -> float:
        """Relative load scatter of a disc from build to build."""
        return self.sharp_scatter if self.sharp else self.dressed_scatter

    @property
    def flat_mm(self) -> float:
        return 0.0 if self.sharp else FLAT_MM

    @property
    def thickness_mm(self) -> float:
        return SHARP_THICKNESS_MM if self.sharp else DRESSED_THICKNESS_MM


@dataclass
class Truth:
    """True discs, what the instrument says of them, and a bench that builds and reads.

    A stack is an array of disc numbers in series. Edges settle anew at `build`. `place_mm` is
    how much further than the job says each shoe presses its stack.
    """

    world: World
    rng: np.random.Generator
    true: Discs
    measured_t_mm: Array
    measured_h_mm: Array
    zero_n: float
    edges: Array
    place_mm: Array

    @staticmethod
    def draw(world: World, seed: int) -> Truth:
        rng = np.random.default_rng([seed, 20240501])
        n = world.discs
        t = rng.normal(world.thickness_mm, THICKNESS_SD_MM, n)
        h = rng.normal(CONE_MM, CONE_SD_MM, n)
        factor = np.exp(rng.normal(0, MODULUS_SD) + rng.normal(0, world.stiffness_sd, n))
        flat = np.full(n, world.flat_mm)
        if world.flat_sd_mm and not world.sharp:
            off = np.random.default_rng([seed, 20261127]).normal(0, world.flat_sd_mm, n)
            flat = np.clip(flat + off, 0.01, None)
        return Truth(
            world,
            rng,
            discs(OD_MM, ID_MM, t, h, flat, factor=factor),
            t + rng.normal(0, world.instrument_sd_mm, n),
            h + rng.normal(0, world.instrument_sd_mm, n),
            rng.normal(0, ZERO_SD_N),
            np.zeros(n),
            np.random.default_rng([seed, 20261128]).normal(0, world.place_sd_mm, SHOES),
        )

    def build(self, stack: Array) -> None:
        """Put discs together: their edges settle anew."""
        self.edges[stack] = self.rng.normal(0, self.world.scatter, len(stack))

    def load_n(self, stack: Array, travel_mm: float = TRAVEL_MM, shoe: int | None = None) -> float:
        """True load of a stack as it is built, by itself or under a shoe, counted from 0."""
        travel_mm += 0.0 if shoe is None else float(self.place_mm[shoe])
        own = replace(self.true, factor=self.true.factor * np.exp(self.edges)).take(stack)
        row = np.full((1, len(stack), 3), -1)
        row[0, :, 0] = np.arange(len(stack))
        model = LoadModel(en16984, edge=self.world.friction)
        seated = Seating(SEATING_N - self.zero_n)
        return float(stack_load(packets(own, row, model), seated, travel_mm)[0])

    def read_n(self, stack: Array, travel_mm: float = TRAVEL_MM, shoe: int | None = None) -> float:
        """A settled reading of the gauge."""
        coarse = self.world.gauge
        stop = travel_mm + self.rng.normal(0, coarse * TRAVEL_STOP_MM)
        shown = self.load_n(stack, stop, shoe) + self.zero_n
        shown += self.rng.normal(0, coarse * NOISE_N)
        step = coarse * RESOLUTION_N
        return float(np.round(shown / step) * step)

    def first_n(self, stack: Array) -> float:
        """The first push, before the stack has seated."""
        return self.read_n(stack) * self.rng.uniform(1.02, 1.03)

    def spread_n(self, stacks: list[Array]) -> float:
        return float(np.ptp([self.load_n(stack, shoe=s) for s, stack in enumerate(stacks)]))
