"""What stands on the bench: believed discs, how they are pressed, and the gauge."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.prior import DiscEstimates, level_sd
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, packets
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.job import Gauge
from optimizer.model.stack import Stack


@dataclass(frozen=True)
@frozen_arrays
class Rig:
    """Believed discs as arrays, the load model and datum, travels (S) and the gauge.

    `place_sd_mm` (S) is how well the deflection that each shoe gives its stack is known.
    """

    belief: DiscEstimates
    discs: Discs
    model: LoadModel
    datum: Datum
    travel_mm: Array
    gauge: Gauge
    place_sd_mm: Array

    @staticmethod
    def of(task: Task, gauge: Gauge) -> Rig:
        """Return the discs of a task as a gauge presses them."""
        return Rig(
            task.belief,
            task.discs,
            task.model,
            task.datum,
            task.travel_mm,
            gauge,
            task.place_sd_mm,
        )

    @property
    def level_sd(self) -> float:
        """Relative doubt of the factor that all loads share, before any reading of a stack."""
        return level_sd(self.model.law, self.belief.level_sd)

    @property
    def in_clutch(self) -> bool:
        """Whether the gauge presses the stacks on the clutch's own shoes and seats."""
        return self.gauge.reads == "in the clutch"

    @property
    def factor_at(self) -> int:
        """Where the load factor stands in the state: after the discs, before the shoes."""
        return 3 * len(self.belief)

    @property
    def durable(self) -> int:
        """Length of the durable state: 3 a disc, the load factor, the place of every shoe."""
        return self.factor_at + 1 + len(self.travel_mm)

    def members(self, stacks: tuple[Stack, ...]) -> Index:
        """Disc numbers of stacks as an array (R, P, 3), -1 where there is none."""
        number = self.belief.numbers
        most = max(len(stack) for stack in stacks)
        members = np.full((len(stacks), most, 3), -1, dtype=np.intp)
        for i, stack in enumerate(stacks):
            for p, packet in enumerate(stack):
                members[i, p, : len(packet)] = [number[name] for name in packet]
        return members

    def shifted(self, shift: Array) -> Rig:
        """Return the rig with its discs, load factor and travels moved by a state."""
        each = shift[: self.factor_at].reshape(-1, 3)
        belief = replace(
            self.belief,
            thickness_mm=self.belief.thickness_mm + each[:, 0],
            cone_height_mm=self.belief.cone_height_mm + each[:, 1],
            factor=self.belief.factor * np.exp(each[:, 2]),
        )
        moved = replace(
            self.discs,
            thickness_mm=belief.thickness_mm,
            cone_height_mm=belief.cone_height_mm,
            factor=belief.factor,
        )
        factor = self.model.load_factor * float(np.exp(shift[self.factor_at]))
        return replace(
            self,
            belief=belief,
            discs=moved,
            model=replace(self.model, load_factor=factor),
            travel_mm=self.travel_mm + shift[self.factor_at + 1 :],
        )


@dataclass(frozen=True)
@frozen_arrays
class Pressed:
    """R stacks at their travel.

    `load_n` (R); `slope` (R, 3n + 1 + S) its change by thickness and cone height (N/mm) and
    ln stiffness (N) of every disc, by the ln load factor (N) and by the place of every shoe
    (N/mm); `rate` (R) in N/mm;
    `scatter_mm2` (R, P) the variance that edges give each packet's deflection at a build.
    """

    load_n: Array
    slope: Array
    rate: Array
    scatter_mm2: Array


def press(rig: Rig, members: Index, shoe: Index, travel_mm: Array, shims_mm: Array) -> Pressed:
    """Press stacks `members` (R, P, 3) under shoes (R) by their travels (R).

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid.
    """
    datum = rig.datum.under(shoe, len(rig.travel_mm))
    p = packets(rig.discs, members, rig.model)
    load = stack_load(p, datum, travel_mm, shims_mm)
    stiffness = rate(p, load)
    each = packet_constant_gradient(rig.discs, members, rig.model, rig.datum, load[:, None])
    rows, n = len(members), len(rig.belief)
    each = np.where((members >= 0)[..., None], each, 0.0)
    slope = np.zeros((rows, rig.durable))
    at = np.where(members >= 0, members, 0)
    by_disc = slope[:, : rig.factor_at].reshape(rows, n, 3)
    np.add.at(by_disc, (np.arange(rows)[:, None, None], at), each)
    slope[:, rig.factor_at] = each[..., 2].sum((1, 2))  # one factor on all discs
    slope[np.arange(rows), rig.factor_at + 1 + shoe] = -1.0
    slope *= -stiffness[:, None]
    scatter = ((each[..., 2] * rig.belief.scatter[at]) ** 2).sum(-1)
    return Pressed(load, slope, stiffness, scatter)
