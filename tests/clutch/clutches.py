"""Random clutches: one shoe each, with a stack of random packets in an installed room."""

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from optimizer.clutch.engagement import Springs
from optimizer.clutch.shoes import Shoes
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.stack import free_height
from tests.mechanics.strategies import Stack, between, stacks


@dataclass(frozen=True)
class Clutch:
    """A shoe (S = 1) with its stack: pressed a share of its cones at rest, more at the drum."""

    stack: Stack
    rest: float
    contact: float
    mass_g: float
    cg_radius_mm: float
    lever: float

    @property
    def springs(self) -> Springs:
        p = self.stack.packets
        row = p.take(np.arange(len(self.stack.groups))[None])
        room = Installed(free_height(row) - self.rest * p.free_mm.sum())
        return Springs(row, room, np.zeros(1), np.ones(1))

    @property
    def shoes(self) -> Shoes:
        travel = (self.contact - self.rest) * self.stack.packets.free_mm.sum()
        values = (self.mass_g, self.cg_radius_mm, travel, self.lever, self.lever)
        return Shoes(*(np.array([v]) for v in values))

    @property
    def slight_mm(self) -> float:
        """A small wear: a fiftieth of the cones."""
        return 0.02 * float(self.stack.packets.free_mm.sum())


clutches = st.builds(
    Clutch,
    stacks(least=2, most=6, steepest=0.8),
    rest=between(0.05, 0.3),
    contact=between(0.35, 0.6),
    mass_g=between(50, 1000),
    cg_radius_mm=between(40, 150),
    lever=between(0.4, 2.5),
)
