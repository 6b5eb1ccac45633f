"""What drives the clutch, its torque as measured, and what it loses while it works."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from annotated_types import Interval

from optimizer.model.key import Says


# fmt: off
@dataclass(frozen=True)
class Engine:
    """What drives and what is driven; None where the job does not say."""

    torque_file: Annotated[Path | None, Says(
        "full-throttle torque at the clutch, CSV or XLSX with rpm and torque_nm or torque_lbft, "
        "beside this file", example=('"engine.csv"', '"engine.csv"'))] = None
    inertia_kgcm2: Annotated[float | None, Interval(gt=0, le=100000), Says(
        "moment of inertia of all that turns with the engine: crank, hub and shoes",
        example=("45", "45"))] = None
    idle_rpm: Annotated[float, Interval(gt=0, le=20000), Says(
        "engine speed at which the throttle is opened")] = 1500.0
    gear_ratio: Annotated[float | None, Interval(gt=0, le=100), Says(
        "turns of the drum for one turn of the wheel", example=("7", "7"))] = None
    wheel_radius_mm: Annotated[float | None, Interval(gt=0, le=2000), Says(
        "radius of the driven wheel under load",
        likely=(40, 2000), example=("136", "5.35"))] = None
    vehicle_mass_kg: Annotated[float | None, Interval(gt=0, le=10000), Says(
        "mass of all that rolls, with its driver", example=("165", "364"))] = None
    rolling_drag_n: Annotated[float, Interval(ge=0, le=5000), Says(
        "force that resists rolling at any speed", example=("40", "9"))] = 0.0
    drag_area_m2: Annotated[float, Interval(ge=0, le=10), Says(
        "drag coefficient times front area: about 0.4 to 0.7 for a kart with its driver "
        "(common practice, no source)", example=("0.5", "0.5"))] = 0.0
    drum_mass_g: Annotated[float | None, Interval(gt=0, le=50000), Says(
        "mass of the drum that takes up a start's heat", example=("900", "900"))] = None


@dataclass(frozen=True)
class Life:
    """What the clutch loses while it works, as its user knows it; None where there is no figure.

    With `travel_new_mm` and `races_run` drum and linings wore what the travel has grown since.
    """

    drum_wear_mm: Annotated[float, Interval(ge=0, le=1), Says(
        "what the drum wears in radius in one race: measure twice and divide",
        example=("0.01", "0.0004"))] = 0.0
    lining_wear_mm: Annotated[float, Interval(ge=0, le=1), Says(
        "what a lining wears in thickness in one race", example=("0.02", "0.0008"))] = 0.0
    wear_doubt: Annotated[float, Interval(ge=0, le=0.9), Says(
        "how well that wear is known, as a share of it; an assumption")] = 0.3
    relaxation: Annotated[float | None, Interval(ge=0, le=0.5), Says(
        "share of the load that set and relaxation take, from readings of discs that ran or "
        "the maker's diagram", example=("0.02", "0.02"))] = None
    fatigue_range_mpa: Annotated[float | None, Interval(ge=10, le=3000), Says(
        "range of tension that the discs endure for as long as they are to run, by the "
        "standard's or the maker's diagram of their thickness", example=("500", "500"))] = None
    travel_new_mm: Annotated[float | None, Interval(gt=0, le=25.4), Says(
        "travel of the shoes races_run races ago: what it has grown since is wear, in place of "
        "drum_wear", likely=(0.3, 25.4), example=("1.42", "0.056"))] = None
    races_run: Annotated[int | None, Interval(ge=1, le=10000), Says(
        "races since the travel was travel_new", example=("8", "8"))] = None


@dataclass(frozen=True)
class TorqueCurve:
    """Speeds in rpm, rising, and the torque in N m at each."""

    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
