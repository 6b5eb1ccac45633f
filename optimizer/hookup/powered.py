"""The clutch on its engine: where it holds full throttle, and what a start does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import RAD_PER_S_PER_RPM
from optimizer.clutch.engine import Holding, engine_nm, holding
from optimizer.clutch.shoes import Linings
from optimizer.clutch.start import Bite, Drive, Start, start
from optimizer.mechanics.disc import Array
from optimizer.model.running import Engine, TorqueCurve

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
