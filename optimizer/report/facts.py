"""What the sheet needs beyond the plan: stacks as mechanics, their uncertainty, their curves."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.known import as_built
from optimizer.estimate.learn import Learned, in_clutch, loads
from optimizer.estimate.loads import load_uncertainty
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, Packets
from optimizer.mechanics.stack import load_at, required_deflection, stack_load
from optimizer.model.plan import BEFORE, PlanSet

#: points of a load-travel curve
POINTS = 41


@dataclass(frozen=True)
@frozen_arrays
class SetFacts:
    """One set as mechanics: arrays over its S stacks, loads in N.

    `stacks` (S, P, 3) are the discs by number, -1 where there is none.
    `reading_sd_n` (S) that of a settled reading at the travel, with what all
    share, the gauge and the travel stop. `told_n` (S) are the working loads of the plan.
    `expected_n` (S) is what the gauge will show on average: see `LoadUncertainty.shift_n`.
    """

    stacks: Index
    packets: Packets
    shims_mm: Array
    reading_sd_n: Array
    told_n: Array
    expected_n: Array


def one_target(task: Task) -> bool:
    """Whether all shoes have one target; travels that were only learned to differ leave it so."""
    return bool(np.ptp(task.target_n) == 0)


def own_words(task: Task) -> str:
    """Say how far apart loads are where each shoe has a target of its own; empty where not."""
    return "" if one_target(task) else ", each measured against its own target"


def set_facts(one: PlanSet, work: Workspace) -> SetFacts:
    """Work out the facts of one set of a plan made from `work`."""
    stacks = work.task.members(stack.packets for stack in one.stacks)
    working = np.array([stack.working_load_n for stack in one.stacks])
    slope = np.array([stack.rate_n_per_mm for stack in one.stacks])
    alone = np.array([stack.working_load_sd_n for stack in one.stacks])
    place = 0.0 if work.task.in_clutch else slope * work.task.place_sd_mm
    on_tester = np.maximum(alone**2 - place**2, 0.0)
    # once readings were learned from, the uncertainty of a stack holds that of the common factor
    shared = (one.common_sd or work.task.level_sd) if one.chance_known == BEFORE else 0.0
    uncertainty = load_uncertainty(work.task, stacks, working)
    common = shared * uncertainty.common_n
    p = work.task.packets(stacks)
    shims = np.array([sum(stack.shims_mm) for stack in one.stacks])
    return SetFacts(
        stacks,
        p,
        shims,
        np.sqrt(on_tester + common**2 + reading_variance(work.job.gauge, slope)),
        working,
        working + (uncertainty.shift_n if one.chance_known == BEFORE else 0.0),
    )


def states_sd_n(one: PlanSet, facts: SetFacts, task: Task, learned: Learned | None = None) -> Array:
    """Doubt (3, S) of the loads at rest, at the travel and worn, beside what all stacks share.

    What readings told of a stack that stands, at its travel, they tell of it at rest and worn
    too, where `learned` is the state after them.
    """
    if learned is not None:
        travels = (np.zeros(task.shoes), learned.rig.travel_mm, task.worn_travel_mm)
        return np.stack([_sd_as_read(one, learned, travel) for travel in travels])
    rest, worn = (
        _sd(task, facts.stacks, np.array([getattr(stack, name) for stack in one.stacks]))
        for name in ("rest_load_n", "worn_load_n")
    )
    return np.stack([rest, [stack.working_load_sd_n for stack in one.stacks], worn])


def _sd_as_read(one: PlanSet, learned: Learned, travel_mm: Array) -> Array:
    at = replace(learned, rig=replace(learned.rig, travel_mm=travel_mm))
    shims = [sum(stack.shims_mm) for stack in one.stacks]
    read = loads(at, tuple(stack.packets for stack in one.stacks), shims)
    if not read.mean_n.all():
        return np.zeros(len(shims))
    sd: Array = np.sqrt(np.diag(in_clutch(at.rig, read).covariance_n2))
    return sd


def _sd(task: Task, stacks: Index, load_n: Array) -> Array:
    """Doubt of loads that may be far from the target; 0 where a stack hangs loose."""
    if not load_n.all():
        return np.zeros(len(stacks))
    return load_uncertainty(task, stacks, load_n).sd_n


@dataclass(frozen=True)
@frozen_arrays
class Curves:
    """Loads of S stacks at T travels: `travel_mm` and `load_n` have the shape (T, S)."""

    travel_mm: Array
    load_n: Array


def curves(facts: SetFacts, task: Task, end_mm: Array) -> Curves:
    """Load of every stack from rest to its `end_mm` (S)."""
    travel = np.linspace(0, 1, POINTS)[:, None] * end_mm
    wanted = np.stack(
        [required_deflection(facts.packets, task.datum, at, facts.shims_mm) for at in travel]
    )
    every = np.broadcast_to(np.arange(len(facts.stacks)), wanted.shape)
    load = load_at(facts.packets.take(every), wanted)
    # readings know how a stack was put together, its discs alone do not
    alone = stack_load(facts.packets, task.datum, task.travel_mm, facts.shims_mm)
    return Curves(travel, as_built(load, alone, facts.told_n, task.datum))


def differences(facts: SetFacts, task: Task) -> Curves:
    """Load of every stack less the mean of the set, over the travel all of them have.

    Unlike shoes are weighted alike, as the spread is.
    """
    end = np.full(task.shoes, task.worn_travel_mm.min())
    all_ = curves(facts, task, end)
    load = all_.load_n * task.weight
    return Curves(all_.travel_mm, load - load.mean(1, keepdims=True))
