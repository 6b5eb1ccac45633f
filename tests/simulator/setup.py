"""The job that a user would write about a hidden bench."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.learn import Learned, as_learned
from optimizer.estimate.prior import DiscEstimates, believe
from optimizer.estimate.problem import Task, pose
from optimizer.match.solve import match
from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import Array, discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import (
    Datum,
    DiscDefaults,
    Friction,
    Gauge,
    Instrument,
    Job,
    Model,
    StackRules,
    Target,
)
from optimizer.model.shoe import Shoe
from optimizer.model.stack import Stack
from optimizer.units import N_PER_LBF
from tests.simulator import truth as bench
from tests.simulator.truth import SERIES, SHOES, Truth

DEALT = 20_000
WIDTH_N = 2 * N_PER_LBF


def nominal_load_n(world: bench.World) -> float:
    """Load of a stack of nominal discs by the formula: the target of every job here."""
    d = discs(bench.OD_MM, bench.ID_MM, [world.thickness_mm], bench.CONE_MM, world.flat_mm)
    row = np.full((1, SERIES, 3), -1)
    row[..., 0] = 0
    p = packets(d, row, LoadModel(en16984))
    return float(stack_load(p, Seating(bench.SEATING_N), bench.TRAVEL_MM)[0])


def job_for(world: bench.World, assumed: bench.World | None = None) -> Job:
    """The job, its declared and assumed doubts those of `assumed` (the world itself)."""
    world_said = assumed or world
    sd = world_said.instrument_sd_mm
    return Job(
        path=Path("job.toml"),
        bag_file=Path("bag.csv"),
        units="in",
        shoes=(
            Shoe(
                bench.TRAVEL_MM,
                bench.TRAVEL_MM,
                travel_sd_mm=world_said.place_sd_mm,
                seat_sd_mm=0.0,
            ),
        )
        * SHOES,
        datum=Datum(bench.SEATING_N),
        target=Target(nominal_load_n(world), None, 10 * N_PER_LBF, WIDTH_N, 0.1 * N_PER_LBF),
        stack=StackRules(packet_sizes=(1,), discs=(SERIES, SERIES)),
        disc=DiscDefaults(),
        instrument=Instrument(sd, sd, flat_sd_mm=world_said.flat_sd_mm),
        model=Model(
            disc_stiffness_sd=world_said.stiffness_sd,
            sharp_scatter=world_said.sharp_scatter,
            dressed_scatter=world_said.dressed_scatter,
        ),
        friction=Friction(),
        gauge=Gauge(
            world_said.gauge * bench.RESOLUTION_N,
            world_said.gauge * bench.NOISE_N,
            world_said.gauge * bench.TRAVEL_STOP_MM,
            "in the clutch",
        ),
    )


def bag_for(truth: Truth) -> Bag:
    world = truth.world
    return Bag(
        Path("bag.csv"),
        tuple(
            Disc(
                f"D{i:02d}", bench.OD_MM, bench.ID_MM, float(t), float(h),
                "sharp" if world.sharp else "dressed", world.flat_mm,
            )
            for i, (t, h) in enumerate(zip(truth.measured_t_mm, truth.measured_h_mm, strict=True))
        ),
    )  # fmt: skip


def task_for(belief: DiscEstimates, job: Job) -> Task:
    assert job.target.load_n is not None
    return pose(belief, job, np.full(SHOES, job.target.load_n))


def learned_task(learned: Learned, job: Job) -> Task:
    """The task as readings corrected discs, load factor and shoes."""
    return as_learned(task_for(learned.before.belief, job), learned)


def rig_for(truth: Truth, job: Job) -> Task:
    belief = believe(bag_for(truth), job)
    task = task_for(belief, job)
    return task


_assigned: dict[bytes, list[Array]] = {}


def first_assignment(rig: Task, job: Job) -> list[Array]:
    """The tool's own assignment; kept, since every way starts from it."""
    key = rig.belief.thickness_mm.tobytes() + rig.belief.covariance.tobytes()
    if key not in _assigned:
        answer = match(task_for(rig.belief, job), Limits()).answer
        _assigned[key] = [stack[stack >= 0] for stack in answer.stacks]
    return list(_assigned[key])


def disc_push_n(task: Task) -> Array:
    """What each disc (n) adds to the load of a stack at the target, in N, to first order."""
    alone = np.full((len(task.belief), 3), -1)
    alone[:, 0] = np.arange(len(alone))
    force = float(task.target_n.mean())
    constant = packet_constant(task.discs, alone, task.model, task.datum, force)
    row = np.full((1, SERIES, 3), -1)
    row[..., 0] = np.arange(SERIES)
    push: Array = -constant * rate(packets(task.discs, row, task.model), np.array([force]))[0]
    return push


def deal(task: Task, seed: int) -> list[Array]:
    """A quick rebuild: of many random dealings the one with stacks most alike, none of
    them far from the usual."""
    push, further = disc_push_n(task), _further_n(task)
    rng = np.random.default_rng(seed)
    dealt = rng.permuted(np.tile(np.arange(len(push)), (DEALT, 1)), axis=1)
    dealt = dealt[:, : SHOES * SERIES].reshape(DEALT, SHOES, SERIES)
    sums = push[dealt].sum(-1)
    standing = np.median(sums)

    def misfit(load: Array) -> Array:
        apart: Array = np.ptp(load, axis=-1) + 0.1 * np.abs(load.mean(-1) - standing)
        return apart

    stacks = list(dealt[misfit(sums + further).argmin()])
    return _levelled(stacks, push, further, misfit) if further.any() else stacks


def _further_n(task: Task) -> Array:
    """What each shoe (S) adds to the load of its stack by pressing it further than the mean."""
    row = np.full((1, SERIES, 3), -1)
    row[..., 0] = np.arange(SERIES)
    stiffness = rate(packets(task.discs, row, task.model), task.target_n[:1])[0]
    further: Array = stiffness * (task.travel_mm - task.travel_mm.mean())
    return further


def _levelled(
    stacks: list[Array], push: Array, further: Array, misfit: Callable[[Array], Array]
) -> list[Array]:
    """Exchange single discs, of stacks or the bag, for the better as long as it is better."""
    order = np.concatenate([*stacks, np.setdiff1d(np.arange(len(push)), np.concatenate(stacks))])
    place = np.repeat(np.arange(SHOES + 1), [SERIES] * SHOES + [len(push) - SHOES * SERIES])
    i, j = np.nonzero(place[:, None] < place)
    each = np.arange(len(i))
    while True:
        load = push[order[: SHOES * SERIES]].reshape(SHOES, SERIES).sum(1) + further
        after = np.zeros((len(i), SHOES + 1))
        gain = push[order[j]] - push[order[i]]
        after[each, place[i]] += gain
        after[each, place[j]] -= gain
        found = misfit(load + after[:, :SHOES])
        best = int(found.argmin())
        if found[best] >= misfit(load):
            return list(order[: SHOES * SERIES].reshape(SHOES, SERIES))
        order[[i[best], j[best]]] = order[[j[best], i[best]]]


def packs_of(stacks: list[Array]) -> tuple[Stack, ...]:
    """Disc numbers as the names that the bench knows."""
    return tuple(tuple((f"D{d:02d}",) for d in stack) for stack in stacks)


def numbers_of(stacks: tuple[Stack, ...]) -> list[Array]:
    return [np.array([int(disc[1:]) for packet in stack for disc in packet]) for stack in stacks]
