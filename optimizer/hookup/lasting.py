"""What a stack and its clutch lose while they work: wear by the race, set, and fatigue."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import Springs, speed_rpm
from optimizer.clutch.races import Races, races
from optimizer.clutch.shoes import Shoes
from optimizer.estimate.problem import Task, members_of
from optimizer.match.result import Assigned
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import packets
from optimizer.mechanics.state import disc_states
from optimizer.model.running import Life


@dataclass(frozen=True)
class Lasting:
    """`races` is None without wear by the race; `relaxed_rpm` without what set takes.

    `lower_mpa` and `upper_mpa` are the tension, at rest and at the drum, at the edge (`point`, II
    or III) of the disc where it swings most; `endured_mpa` is the range that the job says its
    discs endure.
    """

    races: Races | None
    relaxed_rpm: float | None
    point: str
    lower_mpa: float
    upper_mpa: float
    endured_mpa: float | None

    @property
    def range_mpa(self) -> float:
        """Tension at the drum less that at rest."""
        return self.upper_mpa - self.lower_mpa


def worn_a_race(life: Life, shoes: Shoes, travel_sd_mm: Array) -> tuple[float, float, float]:
    """Wear of drum and linings in mm a race, and its relative uncertainty.

    Where two travels were measured, what they differ by is the wear of both; linings have of it
    what the job says, the drum the rest. Each travel was known to its sd.
    """
    if life.travel_new_mm is None or life.races_run is None:
        return life.drum_wear_mm, life.lining_wear_mm, life.wear_doubt
    grown = float(shoes.travel_mm.mean()) - life.travel_new_mm
    if grown <= 0:
        return 0.0, 0.0, life.wear_doubt
    each = grown / life.races_run
    sd = np.sqrt(2.0) * float(np.mean(travel_sd_mm)) / grown / np.sqrt(len(shoes.travel_mm))
    lining = min(life.lining_wear_mm, each)
    return each - lining, lining, min(float(sd), 0.9)


def lasting(
    task: Task,
    life: Life,
    shoes: Shoes,
    springs: Springs,
    pull_kgm: Array,
    work_n: Array,
    stacks: Assigned,
    lining_g_per_mm: Array,
) -> Lasting:
    """Say how long a set lasts, as far as the job tells.

    Notes
    -----
    Stresses by EN 16984 at the edges under tension, between the loads at rest and at the drum,
    as fatigue diagrams of the standard ask for; friction and the load factor do not enter them.
    """
    members = members_of(stacks.stacks)
    p = packets(task.discs, members, task.model)
    low, high = (disc_states(task.discs, members, p, n).stress for n in (stacks.rest_n, work_n))
    swings = {"II": high.ii - low.ii, "III": high.iii - low.iii}
    point = max(swings, key=lambda name: float(swings[name].max()))
    at = np.unravel_index(int(swings[point].argmax()), swings[point].shape)
    name = point.lower()
    return Lasting(
        races(springs, shoes, lining_g_per_mm, *worn_a_race(life, shoes, task.travel_sd_mm)),
        None
        if life.relaxation is None
        else float(speed_rpm(pull_kgm, work_n * (1 - life.relaxation)).mean()),
        point,
        float(getattr(low, name)[at]),
        float(getattr(high, name)[at]),
        life.fatigue_range_mpa,
    )  # fmt: skip
