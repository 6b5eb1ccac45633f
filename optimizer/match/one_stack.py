"""One stack that a user names: its loads, its discs' states, what to mind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer import text
from optimizer.errors import InputError, MechanicsError, Problem, did_you_mean, raise_if
from optimizer.estimate.known import as_built
from optimizer.estimate.learn import in_clutch
from optimizer.estimate.learn import loads as loads_of
from optimizer.estimate.loads import load_uncertainty
from optimizer.estimate.problem import Task
from optimizer.match.extremes import loose_note
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, Packets, nesting_order
from optimizer.mechanics.stack import free_height, rate, required_deflection, stack_load
from optimizer.mechanics.state import DiscStates, disc_states
from optimizer.model.sizes import sizes
from optimizer.model.stack import Stack

#: lines of the small travel/load table
TRAVELS = 9


@dataclass(frozen=True)
class DiscAt:
    """One disc at one load: deflection, its share of h, load carried, stresses in MPa."""

    deflection_mm: float
    deflection_share: float
    load_n: float
    stress_om_mpa: float
    stress_i_mpa: float
    stress_ii_mpa: float
    stress_iii_mpa: float
    stress_iv_mpa: float


@dataclass(frozen=True)
class DiscLoad(DiscAt):
    """One disc at the working load, and the same at rest and worn."""

    disc: str
    packet: int
    rest: DiscAt
    worn: DiscAt


@dataclass(frozen=True)
class OneStack:
    """What `load` tells of a stack under one shoe; `table` is (travel in mm, load in N)."""

    units: str
    shoe: int
    packets: Stack
    shims_mm: tuple[float, ...]
    free_height_mm: float
    travel_mm: float
    worn_travel_mm: float
    rest_load_n: float
    working_load_n: float
    working_load_sd_n: float
    worn_load_n: float
    rate_n_per_mm: float
    table: tuple[tuple[float, float], ...]
    discs: tuple[DiscLoad, ...]
    warnings: tuple[str, ...]


def read_stack(words: str, names: tuple[str, ...]) -> Stack:
    """Read "D01 D02+D03 D04": packets bottom to top, `+` nests.

    Raises
    ------
    InputError
        with every name that is not in the bag or is used twice, and every packet of more
        than three discs.
    """
    stack = [packet.split("+") for packet in words.replace(",", " ").split()]
    if not stack:
        raise InputError("Expected discs, got none.", "--stack", 'Such as "D01 D02+D03".')
    raise_if(_misread(stack, names))
    return tuple(map(tuple, stack))


def _misread(stack: list[list[str]], names: tuple[str, ...]) -> Iterator[Problem]:
    known, seen = set(names), set[str]()
    for packet in stack:
        if len(packet) > 3:
            yield Problem(
                f"Expected at most 3 nested discs, got {'+'.join(packet)}.",
                "--stack",
                "Put a blank between packets.",
            )
        for name in packet:
            if not name:
                yield Problem(
                    f"Expected a disc on both sides of +, got {'+'.join(packet)}.",
                    "--stack",
                    "Write D02+D03 without blanks for two nested discs.",
                )
            elif name not in known:
                hint = did_you_mean(name, names, "Use the names of the bag file.", 0.5)
                yield Problem(f'Expected a disc of the bag, got "{name}".', "--stack", hint)
            elif name in seen:
                yield Problem(
                    f"Expected each disc once, got {name} twice.", "--stack", "Name another disc."
                )
            seen.add(name)


def one_stack(work: Workspace, stack: Stack, shims_mm: tuple[float, ...], shoe: int) -> OneStack:
    """Compute a stack under shoe number `shoe` (from 1), discs as believed.

    A stack that stands since the bench carries what its readings tell.

    Raises
    ------
    InputError
        for shims in a job whose travel is zeroed at a seating load, where they cancel, and
        for a shoe that the clutch has not.
    MechanicsError
        when the travel presses the stack solid.
    """
    task = work.task
    if not 1 <= shoe <= task.shoes:
        raise InputError(f"Expected a shoe from 1 to {task.shoes}, got {shoe}.", "--shoe")
    if shims_mm and not task.datum.has_room:
        raise InputError(
            "Shims change nothing where the travel is zeroed at a seating load.",
            "--shims",
            "Leave them out, or give [datum] installed_length in the job.",
        )
    alone = _under(task, shoe - 1)
    members = task.members((stack,))
    p = alone.packets(members)
    travels = np.linspace(0.0, float(alone.worn_travel_mm[0]), TRAVELS)
    rest, working, worn, *loads = (
        _load(alone, p, float(travel), shims_mm)
        for travel in (0.0, alone.travel_mm[0], alone.worn_travel_mm[0], *travels)
    )
    sd = float(load_uncertainty(alone, members, working).sd_n[0])
    if work.known is not None:
        learned = work.known.learned
        read = loads_of(learned, (stack,), (sum(shims_mm),), (shoe,))
        told = in_clutch(learned.rig, read, (shoe,))
        if working[0] > 0:
            rest, working, worn, *loads = (
                as_built(load, working, told.mean_n, alone.datum)
                for load in (rest, working, worn, *loads)
            )
        sd = float(np.sqrt(told.covariance_n2[0, 0]))
    states = {f: disc_states(alone.discs, members, p, load) for f, load in
              (("rest", rest), ("work", working), ("worn", worn))}  # fmt: skip
    return OneStack(
        units=task.units,
        shoe=shoe,
        packets=stack,
        shims_mm=shims_mm,
        free_height_mm=float(free_height(p)[0]),
        travel_mm=float(alone.travel_mm[0]),
        worn_travel_mm=float(alone.worn_travel_mm[0]),
        rest_load_n=float(rest[0]),
        working_load_n=float(working[0]),
        working_load_sd_n=sd,
        worn_load_n=float(worn[0]),
        rate_n_per_mm=float(rate(p, working)[0]),
        table=tuple((float(t), float(f[0])) for t, f in zip(travels, loads, strict=True)),
        discs=tuple(
            DiscLoad(
                **vars(_at(states["work"], k, j)),
                disc=disc,
                packet=k + 1,
                rest=_at(states["rest"], k, j),
                worn=_at(states["worn"], k, j),
            )
            for k, packet in enumerate(stack)
            for j, disc in enumerate(packet)
        ),
        warnings=(
            *_minds(task, stack, members[0], states),
            *loose_note(_gap(alone, p, shims_mm, f"shoe {shoe}"), task.units),
        ),
    )


def _under(task: Task, shoe: int) -> Task:
    """The task of one shoe alone."""
    one = slice(shoe, shoe + 1)
    return replace(
        task,
        datum=task.datum_of(shoe),
        travel_mm=task.travel_mm[one],
        worn_travel_mm=task.worn_travel_mm[one],
        target_n=task.target_n[one],
        travel_sd_mm=task.travel_sd_mm[one],
        seat_sd_mm=task.seat_sd_mm[one],
    )


def _gap(alone: Task, p: Packets, shims_mm: tuple[float, ...], name: str) -> dict[str, float]:
    """Room in mm that the stack leaves at rest, by its name."""
    if not alone.datum.has_room:
        return {}
    return {name: -float(required_deflection(p, alone.datum, 0.0, sum(shims_mm))[0])}


def _load(alone: Task, p: Packets, travel_mm: float, shims_mm: tuple[float, ...]) -> Array:
    try:
        return stack_load(p, alone.datum, travel_mm, sum(shims_mm))
    except MechanicsError as error:
        raise MechanicsError(
            *(
                replace(found, where=f"--stack, {travel_mm:.3f} mm of travel")
                for found in error.problems
            )
        ) from error


def _at(states: DiscStates, packet: int, place: int) -> DiscAt:
    at = (0, packet, place)
    return DiscAt(
        deflection_mm=float(states.deflection_mm[at]),
        deflection_share=float(states.share[at]),
        load_n=float(states.load_n[at]),
        **{f"stress_{point}_mpa": float(mpa[at]) for point, mpa in vars(states.stress).items()},
    )


def _minds(
    task: Task, stack: Stack, members: Index, states: dict[str, DiscStates]
) -> Iterator[str]:
    """Say what is wrong with the stack though it can be computed."""
    d = task.discs
    limit = task.rules.deflection_limit
    for when, word in (("work", "at the travel"), ("worn", "on a worn drum")):
        share = states[when].share[0]
        over = [disc for k, packet in enumerate(stack) for j, disc in enumerate(packet)
                if share[k, j] > limit]  # fmt: skip
        if over:
            yield (
                f"{', '.join(over)} pressed beyond the deflection limit {limit:g} h {word} "
                f"(to {share.max():.2f} h): it may set or crack early."
            )
    size = sizes(d.od_mm, d.id_mm)
    for packet, row in zip(stack, members, strict=True):
        discs = row[row >= 0]
        cone = d.cone_height_mm[discs]
        if len(packet) == 3 and cone[1] < min(cone[0], cone[2]):
            order = text.packet(tuple(packet[k] for k in nesting_order(cone)))
            yield (
                f"{text.packet(packet)}: a shorter cone between two "
                f"taller ones carries far less than computed. Build it as {order}."
            )
        if np.ptp(size[discs]):
            apart = max(float(np.ptp(each[discs])) for each in (d.od_mm, d.id_mm))
            nested, off = text.packet(packet), text.length(apart, task.units)
            yield f"{nested}: diameters differ by {off}; they do not nest."
