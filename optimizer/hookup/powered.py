"""The clutch on its engine: where it holds full throttle, what a start does, how long it lasts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.drift import Races, races
from optimizer.clutch.engagement import RAD_PER_S_PER_RPM, Springs, speed_rpm
from optimizer.clutch.engine import Holding, engine_nm, holding
from optimizer.clutch.shoes import Linings, Shoes
from optimizer.clutch.start import Bite, Drive, Start, start
from optimizer.estimate.problem import Task
from optimizer.match.result import Assigned
from optimizer.mechanics.disc import Array
from optimizer.mechanics.state import disc_states
from optimizer.model.running import Engine, Life, TorqueCurve

#: what a start needs beside the torque curve, as the keys of [engine] are written
NEEDED = {
    "inertia_kgcm2": "inertia_kgcm2",
    "gear_ratio": "gear_ratio",
    "wheel_radius_mm": "wheel_radius_mm (or wheel_radius_in)",
    "vehicle_mass_kg": "vehicle_mass_kg (or vehicle_mass_lb)",
}


@dataclass(frozen=True)
class Powered:
    """`start` is None where `lacking` names keys that the job does not give, or a shoe grabs;
    `drum_rise_k` is None without the mass of the drum as well."""

    holding: Holding
    start: Start | None
    lacking: tuple[str, ...]
    drum_rise_k: float | None


def drive_of(engine: Engine, curve: TorqueCurve) -> Drive | None:
    """Return engine and vehicle as inertias; None where the job lacks any of them."""
    inertia, gear = engine.inertia_kgcm2, engine.gear_ratio
    radius, mass = engine.wheel_radius_mm, engine.vehicle_mass_kg
    if inertia is None or gear is None or radius is None or mass is None:
        return None
    metres = radius / 1000 / gear
    return Drive(
        engine_nm(curve),
        curve.rpm[-1] * RAD_PER_S_PER_RPM,
        inertia / 1e4,
        mass * metres**2,
        metres,
        engine.rolling_drag_n,
        engine.drag_area_m2,
    )


def run_start(
    engine: Engine, curve: TorqueCurve, pull_kgm: Array, linings: Linings, work_n: Array
) -> Start | None:
    """Start once; None where the job lacks what it takes, or a shoe grabs."""
    drive = drive_of(engine, curve)
    grip = linings.grip_m
    if drive is None or not np.isfinite(grip).all():
        return None
    return start(Bite(pull_kgm, work_n, grip), drive, engine.idle_rpm * RAD_PER_S_PER_RPM)


def powered(
    engine: Engine,
    curve: TorqueCurve,
    pull_kgm: Array,
    linings: Linings,
    work_n: Array,
    sd_n: Array | float,
    shared_n: Array | float,
) -> Powered:
    """Put the clutch (arguments as in `clutch.torque.torque`) on its engine."""
    held = holding(pull_kgm, linings, work_n, curve, sd_n, shared_n)
    lacking = tuple(key for name, key in NEEDED.items() if getattr(engine, name) is None)
    run = run_start(engine, curve, pull_kgm, linings, work_n)
    drum = engine.drum_mass_g
    rise = None if run is None or drum is None else run.drum_rise_k(drum)
    return Powered(held, run, lacking, rise)


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
    members = stacks.stacks
    p = task.packets(members)
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
