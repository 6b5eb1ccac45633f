"""Random packets and stacks, as rows of numbers and as the package's arrays."""

from dataclasses import astuple, dataclass

import numpy as np
from hypothesis import strategies as st

from optimizer.mechanics.disc import Discs, discs
from optimizer.mechanics.law import LAWS
from optimizer.mechanics.packet import LoadModel, Packets, packets
from tests.mechanics.literal import Disc


def between(low, high):
    return st.floats(low, high, allow_nan=False)


models = st.builds(
    LoadModel,
    st.sampled_from(list(LAWS.values())),
    between(0.9, 1.1),
    st.sampled_from([0.0, 0.03]),
    st.sampled_from([0.0, 0.04]),
)


@st.composite
def nested_discs(draw, steepest=1.0):
    """One to three discs of one size, sharp or dressed, whose cones differ by up to a third.

    Up to h/t = 1 neither law has a load peak here, whatever the flat.
    """
    od = draw(between(12, 50))
    inside = od / draw(between(1.7, 2.4))
    t = od * draw(between(0.03, 0.055))
    h = t * draw(between(0.3, steepest))
    return [
        Disc(
            od,
            inside,
            t * draw(between(0.98, 1.02)),
            h * draw(between(0.7, 1.0)),
            (od - inside) * draw(st.sampled_from([0.0, 0.01, 0.03])),
            factor=draw(between(0.97, 1.03)),
        )
        for _ in range(draw(st.integers(1, 3)))
    ]


def arrays(rows: list[Disc]) -> Discs:
    return discs(*np.array([astuple(row) for row in rows]).T)


def places(groups: list[list[Disc]]) -> np.ndarray:
    """Members of packets made of groups listed one after another: shape (P, 3)."""
    members = np.full((len(groups), 3), -1)
    following = 0
    for row, group in zip(members, groups, strict=True):
        row[: len(group)] = np.arange(following, following + len(group))
        following += len(group)
    return members


@dataclass(frozen=True)
class Stack:
    """Packets in series: as rows, and as arrays of shape (P, 3)."""

    groups: list[list[Disc]]
    model: LoadModel

    @property
    def discs(self) -> Discs:
        return arrays([d for group in self.groups for d in group])

    @property
    def members(self) -> np.ndarray:
        return places(self.groups)

    @property
    def packets(self) -> Packets:
        return packets(self.discs, self.members, self.model)


def stacks(least=1, most=6, steepest=1.0):
    groups = st.lists(nested_discs(steepest), min_size=least, max_size=most)
    return st.builds(Stack, groups, models)
