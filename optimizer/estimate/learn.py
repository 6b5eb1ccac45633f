"""What readings tell of discs, load factor and builds: a linear-Gaussian state.

State: thickness (mm), cone height (mm) and ln stiffness of every disc, the ln of one load
factor, by how much (mm) each shoe presses its stack further than its travel and seat say where
the gauge uses them, for every build the deflection (mm) that its edges add, and for every load
that was read how far (N) the display rounds it. Every settled reading is one observation; all are
conditioned on together, which gives what a Kalman filter gives one after the other, and the slopes
are taken again where the state ends up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.builds import Standing
from optimizer.estimate.evidence import Evidence, LoadKey
from optimizer.estimate.gauge import press
from optimizer.estimate.gauged import Gauged, build_slope
from optimizer.estimate.problem import Task
from optimizer.estimate.repeats import gauge_taught
from optimizer.estimate.scale import EDGES, GAUGE, HOLDS, INSTRUMENT, KINDS, REST, mended
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.readings import Reading
from optimizer.model.stack import Stack

#: the slopes are taken again until the loads move less than this share, at most so often
SETTLED, ROUNDS = 1e-4, 4


@dataclass(frozen=True)
@frozen_arrays
class Learned:
    """The state after readings: `rig` is the task at its mean.

    `before` is the task as it was; `shift` (3n + 1 + S) what was added to it; `build_mm` (B) the
    mean of the builds' deflections; `covariance` (D, D) with D = 3n + 1 + S + B + L: last come
    the rounding errors in N of the L loads that were read. `rounded` says where that of a shoe's
    build stands. `factors` are those learned on the declared sds of each kind (`scale.KINDS`), the
    gauge last.
    """

    before: Task
    rig: Task
    shift: Array
    build_mm: Array
    covariance: Array
    standing: Standing
    evidence: Evidence
    rounded: Mapping[LoadKey, int]
    factors: Array

    @property
    def load_factor(self) -> float:
        """Load factor of the job, as learned."""
        return self.rig.model.load_factor

    @property
    def load_factor_sd(self) -> float:
        """Standard deviation of the load factor."""
        at = self.rig.factor_at
        return self.load_factor * float(np.sqrt(self.covariance[at, at]))

    def heard(self, shoe: int) -> bool:
        """Whether a reading of what stands under a shoe counts."""
        e, now = self.evidence, self.standing.shoes.get(shoe)
        return now is not None and any(
            told and reading.shoe == shoe and set(built.builds) <= set(now.builds)
            for told, reading, built in zip(e.heard, e.readings, e.built, strict=True)
        )


def learn(
    rig: Task,
    readings: Sequence[Reading],
    shims_mm: Sequence[float],
    keep_groups: bool = False,
    factor_sd: float | None = None,
    scale_sd: float = 0.0,
) -> Learned:
    """Learn from the settled readings; without any the state is the prior.

    Parameters
    ----------
    readings : in the order they were taken
    shims_mm : total of the shims of each shoe (S), where a reading does not know its own
    keep_groups : sub-stacks gauged without a shoe stay together
    factor_sd : relative uncertainty of the load factor before them; that of the law where None
    scale_sd : how well the declared sds are known, as the sd of the ln of a factor on each kind
        of them, 0 where they hold; see `scale`

    Raises
    ------
    MechanicsError
        when a stack that was read would be pressed solid in the model.
    """
    sd = rig.level_sd if factor_sd is None else factor_sd
    bench = Gauged.of(rig, readings, shims_mm, keep_groups, sd)
    settled, durable = bench.readings, rig.durable
    state = np.zeros(bench.size)
    factors = np.ones(GAUGE + 1)
    if not settled:
        e = bench.evidence(state)
        return Learned(rig, rig, state, state[:0], e.prior, bench.standing, e, {}, factors)
    heard = np.array([r.trust == "usual" for r in settled])
    tried = np.array([r.trust == "insisted" for r in settled])
    if tried.any():
        heard = bench.evidence(state).trial.borne_out(heard, tried)
    if heard.any():
        first = bench.evidence(state)
        row = int(np.argmax(heard))
        near = first.seen_n[row] / (first.seen_n[row] - first.surprise_n[row])
        state[rig.factor_at] = np.log(near)  # near enough for a first slope
    if scale_sd and len(bench.loads) < len(settled):  # something was read again
        gauge, factors[GAUGE] = gauge_taught(rig.gauge, bench.evidence(state).only(heard))
        bench = replace(bench, rig=replace(rig, gauge=gauge))
    for _ in range(ROUNDS):
        e = bench.evidence(state).only(heard)
        gain = np.linalg.solve(e.expected, e.slope @ e.prior).T
        moved = e.slope @ (gain @ e.surprise_n - state)
        state = gain @ e.surprise_n
        if np.all(np.abs(moved) <= SETTLED * e.seen_n):
            break
    covariance = e.prior - gain @ e.slope @ e.prior
    covariance = (covariance + covariance.T) / 2
    if scale_sd and heard.any():
        each = np.full(KINDS, scale_sd)
        each[INSTRUMENT] *= rig.belief.instrument_doubt
        told = mended(e, _kinds(bench), each)
        state, covariance, factors[:KINDS] = told.state, told.covariance, told.factors
    shift, build = np.split(state[: durable + bench.builds], [durable])
    rounded = {key: durable + bench.builds + at for key, at in bench.loads.items()}
    now = bench.rig.shifted(shift)
    scatter = factors[EDGES] * now.belief.scatter
    now = replace(now, belief=replace(now.belief, scatter=scatter))
    return Learned(rig, now, shift, build, covariance, bench.standing, e, rounded, factors)


def _kinds(bench: Gauged) -> Index:
    """Which kind of uncertainty each of the state (D) is of."""
    rig = bench.rig
    kinds = np.full(bench.size, HOLDS)
    kinds[: rig.factor_at] = np.tile([INSTRUMENT, INSTRUMENT, REST], len(rig.belief))
    kinds[rig.factor_at + 1 : rig.durable] = REST
    kinds[rig.durable : rig.durable + bench.builds] = EDGES
    return kinds


def foreseen(rig: Task, readings: Sequence[Reading], keep_groups: bool) -> Evidence:
    """What settled readings would tell, seen from before any of them."""
    bench = Gauged.of(rig, readings, (0.0,) * len(rig.travel_mm), keep_groups, rig.level_sd)
    return bench.evidence(np.zeros(bench.size))


@dataclass(frozen=True)
@frozen_arrays
class Loads:
    """Loads of stacks (S) as believed: mean in N, covariance in N^2, rate in N/mm.

    `slope` (S, D) is the change by the state; `scatter_n2` (S) the variance that taking a
    stack apart and building it again gives it; `rounding` (S, D) the change of what the gauge
    shows beside that by the rounding of what was read of the same build, 0 where nothing was.
    """

    mean_n: Array
    covariance_n2: Array
    rate: Array
    slope: Array
    scatter_n2: Array
    rounding: Array


def loads(
    learned: Learned,
    stacks: tuple[Stack, ...],
    shims_mm: Sequence[float],
    shoes: Sequence[int] | None = None,
) -> Loads:
    """Loads of stacks at the travel, standing or to be built: one a shoe, or under `shoes`."""
    rig = learned.rig
    shoes = range(1, len(stacks) + 1) if shoes is None else shoes
    built = [learned.standing.built(s, packs) for s, packs in zip(shoes, stacks, strict=True)]
    members = rig.members(stacks)
    at: Index = np.array(shoes) - 1
    pressed = press(rig, members, at, rig.travel_mm[at], np.asarray(shims_mm, dtype=np.float64))
    by_build = build_slope(pressed, built, len(learned.build_mm))
    shown = np.zeros((len(stacks), len(learned.covariance)))
    for i, (s, stack) in enumerate(zip(shoes, built, strict=True)):
        if (at_load := learned.rounded.get((s, stack.builds, None))) is not None:
            shown[i, at_load] = 1.0
    slope = np.zeros_like(shown)
    slope[:, : pressed.slope.shape[1] + by_build.shape[1]] = np.concatenate(
        [pressed.slope, by_build], axis=1
    )
    scatter = pressed.scatter_mm2 * pressed.rate[:, None] ** 2
    anew = np.zeros(members.shape[:2])
    for i, (s, packs) in enumerate(zip(shoes, stacks, strict=True)):
        anew[i, : len(packs)] = learned.standing.anew(s, packs)
    covariance = slope @ learned.covariance @ slope.T + np.diag((anew * scatter).sum(1))
    mean = pressed.load_n + by_build @ learned.build_mm
    return Loads(mean, covariance, pressed.rate, slope, scatter.sum(1), shown)


def in_clutch(rig: Task, read: Loads, shoes: Sequence[int] | None = None) -> Loads:
    """Loads of stacks in the clutch, one a shoe or under `shoes`, from what the gauge would read.

    They are the same where it reads there; beside it nothing tells how far each shoe presses.
    """
    if rig.in_clutch:
        return read
    sd = rig.place_sd_mm if shoes is None else rig.place_sd_mm[np.array(shoes) - 1]
    return replace(read, covariance_n2=read.covariance_n2 + np.diag((read.rate * sd) ** 2))


def as_learned(task: Task, learned: Learned) -> Task:
    """Return a task with its discs, load factor and shoes as readings corrected them.

    Each disc and each shoe keeps its own doubt as it is left (blocks of the state).
    """
    rig = learned.rig
    at = 3 * np.arange(len(rig.belief))[:, None] + np.arange(3)
    cover = learned.covariance[at[:, :, None], at[:, None, :]]
    belief = replace(rig.belief, covariance=cover)
    task = replace(task, belief=belief, discs=rig.discs, model=rig.model)
    if not rig.in_clutch:
        return task
    further = rig.travel_mm - learned.before.travel_mm
    place = np.diag(learned.covariance)[rig.factor_at + 1 : rig.durable]
    return replace(
        task,
        travel_mm=task.travel_mm + further,
        worn_travel_mm=task.worn_travel_mm + further,
        # readings do not tell a travel from a seat: what is left of both stands under one
        travel_sd_mm=np.sqrt(np.maximum(place, 0.0)),
        seat_sd_mm=np.zeros(task.shoes),
    )


def disc_slope(learned: Learned, load_n: float) -> Array:
    """Change in mm of each disc's deflection at a load by its own properties: (n, 3)."""
    rig = learned.before
    alone: Index = np.full((len(rig.belief), 3), -1)
    alone[:, 0] = np.arange(len(alone))
    return packet_constant_gradient(rig.discs, alone, rig.model, rig.datum, load_n)[:, 0]


def deflection_shift(learned: Learned, load_n: float) -> tuple[Array, Array]:
    """Shift of each disc's deflection at a load, and its sd now, in mm (n)."""
    slope = disc_slope(learned, load_n)
    n = len(slope)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    cover = learned.covariance[at[:, :, None], at[:, None, :]]
    sd = np.sqrt(np.einsum("ni,nij,nj->n", slope, cover, slope))
    return (slope * learned.shift[: 3 * n].reshape(n, 3)).sum(1), sd
