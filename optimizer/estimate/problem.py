"""The problem as numbers: believed discs, shoes, target and rules."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.errors import InputError
from optimizer.estimate.prior import DiscEstimates, level_sd
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.datum import Datum, Installed, Seating
from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.law import LAWS
from optimizer.mechanics.packet import Index, LoadModel, Packets, packets, residual_cone_height
from optimizer.model.job import Gauge, Job, StackRules, Units
from optimizer.model.stack import Shims, Stack, shim_totals


@dataclass(frozen=True)
@frozen_arrays
class Task:
    """What is to be assigned; S shoes, n discs.

    `target_n` (S) may differ between shoes that differ; `usable` are the discs that may be
    taken, `use` those that must be, `together` groups that must share a shoe; `units` are
    those that the user reads. `travel_sd_mm` and `seat_sd_mm` (S) are how well travel and seat
    of each shoe are known, 0 of the seat where the travel is zeroed at a load.
    """

    belief: DiscEstimates
    discs: Discs
    model: LoadModel
    datum: Datum
    travel_mm: Array
    worn_travel_mm: Array
    target_n: Array
    load_tolerance_n: float
    resolution_n: float
    rules: StackRules
    usable: Index
    use: Index
    together: tuple[Index, ...]
    travel_sd_mm: Array
    seat_sd_mm: Array
    gauge: Gauge
    units: Units = "mm"

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
        return self.factor_at + 1 + self.shoes

    @property
    def shoes(self) -> int:
        """Number of shoes S."""
        return len(self.target_n)

    @property
    def alike(self) -> bool:
        """Whether any stack could go under any shoe."""
        length = self.datum.lengths_mm(self.shoes)
        same = (self.travel_mm, self.worn_travel_mm, self.target_n, length)
        return all(np.ptp(values) == 0 for values in same)

    @property
    def weight(self) -> Array:
        """Factor (S) that makes load deviations of unlike shoes count alike.

        Equal relative deviations are equal deviations of engagement speed, which goes with
        the square root of load over (mass * radius).
        """
        weight: Array = self.target_n.mean() / self.target_n
        return weight

    @property
    def level_sd(self) -> float:
        """Relative uncertainty of the factor all loads share, before any reading of a stack."""
        return level_sd(self.model.law, self.belief.level_sd)

    @property
    def place_sd_mm(self) -> Array:
        """How well the deflection that each shoe (S) gives its stack is known."""
        return np.hypot(self.travel_sd_mm, self.seat_sd_mm)

    @property
    def unseen(self) -> bool:
        """Whether the gauge, beside the clutch, does not see what is in doubt of its shoes."""
        return not self.in_clutch and bool(self.place_sd_mm.any())

    def datum_of(self, shoe: int) -> Datum:
        """Where deflection is counted from under one shoe, numbered from 0."""
        return self.datum.under(np.array([shoe]), self.shoes)

    def required_travel_mm(self, travel_mm: Array, shims: Shims | None = None) -> Array:
        """Right-hand side (S) of the linear identity at a travel (S): see `mechanics.constant`."""
        shim_mm = 0.0 if shims is None else np.array(shim_totals(shims))
        return self.datum.required_travel_mm(travel_mm, shim_mm)

    def named(self, members: Index) -> tuple[Stack, ...]:
        """Return stacks (R, P, 3) of disc numbers, -1 where there is none, as named discs."""
        names = self.belief.names
        stacks = (
            (tuple(names[d] for d in packet if d >= 0) for packet in stack)
            for stack in members.tolist()
        )
        return tuple(tuple(packet for packet in stack if packet) for stack in stacks)

    def members(self, stacks: Iterable[Stack]) -> Index:
        """Disc numbers of stacks of named discs as an array (R, P, 3), -1 where there is none."""
        number, stacks = self.belief.numbers, tuple(stacks)
        members = np.full((len(stacks), max(map(len, stacks)), 3), -1, dtype=np.intp)
        for i, stack in enumerate(stacks):
            for p, packet in enumerate(stack):
                members[i, p, : len(packet)] = [number[name] for name in packet]
        return members

    def packets(self, members: Index) -> Packets:
        """Return the packets (...) of rows of disc numbers (..., 3)."""
        return packets(self.discs, members, self.model)

    def believing(self, belief: DiscEstimates) -> Task:
        """Return the task with its discs believed otherwise."""
        names = ("thickness_mm", "cone_height_mm", "flat_mm", "factor")
        discs = replace(self.discs, **{name: getattr(belief, name) for name in names})
        return replace(self, belief=belief, discs=discs)

    def shifted(self, shift: Array) -> Task:
        """Return the task with its discs, load factor and travels moved by a state."""
        each = shift[: self.factor_at].reshape(-1, 3)
        factor = self.model.load_factor * float(np.exp(shift[self.factor_at]))
        return replace(
            self.believing(self.belief.shifted(each)),
            model=replace(self.model, load_factor=factor),
            travel_mm=self.travel_mm + shift[self.factor_at + 1 :],
        )


def disc_arrays(belief: DiscEstimates, job: Job) -> Discs:
    """Return the believed discs as the arrays that the mechanics work on."""
    return discs(
        belief.od_mm,
        belief.id_mm,
        belief.thickness_mm,
        belief.cone_height_mm,
        belief.flat_mm,
        job.disc.modulus_mpa,
        job.disc.poisson,
        belief.factor,
    )


def load_model(job: Job) -> LoadModel:
    """Return the load model of a job."""
    return LoadModel(
        LAWS[job.model.law], job.model.load_factor, job.friction.between, job.friction.edge
    )


def datum_of(job: Job) -> Datum:
    """Return where the job counts deflection from, one value a shoe."""
    if job.datum.seating_load_n is not None:
        return Seating(job.datum.seating_load_n)
    assert job.datum.installed_length_mm is not None  # the reader asks for exactly one
    return Installed(
        job.datum.installed_length_mm + np.array([shoe.seat_depth_mm for shoe in job.shoes])
    )


def seat_sd_mm(job: Job) -> Array:
    """How well the seat of each shoe (S) is known; 0 where the travel is zeroed at a load."""
    sd = np.array([shoe.seat_sd_mm for shoe in job.shoes])
    return sd * (job.datum.installed_length_mm is not None)


def pose(belief: DiscEstimates, job: Job, target_n: Array) -> Task:
    """Pose the assignment of believed discs to the shoes of a job.

    Raises
    ------
    InputError
        when the job names discs that are not in the bag.
    """
    number = belief.numbers
    rules = job.stack
    named = [*rules.use, *rules.leave, *(name for group in rules.together for name in group)]
    unknown = [name for name in dict.fromkeys(named) if name not in number]
    if unknown:
        raise InputError(
            f"names {', '.join(unknown)}, not in the bag {job.bag_file.name}.",
            str(job.path),
            "Correct the name under [stack] use, leave or together.",
        )
    left = {number[name] for name in rules.leave}
    return Task(
        belief=belief,
        discs=disc_arrays(belief, job),
        model=load_model(job),
        datum=datum_of(job),
        travel_mm=np.array([shoe.travel_mm for shoe in job.shoes]),
        worn_travel_mm=np.array([shoe.worn_travel_mm for shoe in job.shoes]),
        target_n=target_n,
        load_tolerance_n=job.target.load_tolerance_n,
        resolution_n=job.target.resolution_n,
        rules=rules,
        usable=np.array([i for i in range(len(belief)) if i not in left], dtype=np.intp),
        use=np.array([number[name] for name in rules.use], dtype=np.intp),
        together=tuple(
            np.array([number[name] for name in group], dtype=np.intp) for group in rules.together
        ),
        travel_sd_mm=np.array([shoe.travel_sd_mm for shoe in job.shoes]),
        seat_sd_mm=seat_sd_mm(job),
        gauge=job.gauge,
        units=job.units,
    )


def constants(task: Task, p: Packets, force_n: Array) -> Array:
    """Constant c in mm of packets (M) at each shoe's load `force_n` (S): shape (M, S)."""
    base = task.datum.base_mm(p)
    return by_shoe(lambda force: base - residual_cone_height(p, force), force_n)


def by_shoe(value: Callable[[float], Array], force_n: Array) -> Array:
    """Stack value(force) of every shoe, computing equal forces once."""
    once = {force: value(float(force)) for force in np.unique(force_n)}
    return np.stack([once[force] for force in force_n], axis=-1)
