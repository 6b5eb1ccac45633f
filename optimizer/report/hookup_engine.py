"""Shoes, torque, engine and start of `engage` as readable text."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from optimizer import wrapping
from optimizer.clutch.engine import Holding, Torque
from optimizer.clutch.shoes import Linings
from optimizer.clutch.start import DISTANCES_M, Start
from optimizer.hookup.powered import Powered
from optimizer.model.job import Job
from optimizer.units import N_PER_LBF, NM_PER_LBF_FT

#: said wherever a start is shown
COMPARES = (
    "A start here is one gear, full throttle, tyres that do not slip and a driver who only opens "
    "the throttle: it compares setups with each other and does not predict lap times."
)


def torque_in(nm: float, units: str) -> float:
    """Torque in the unit users of inches or of millimetres read: lbf ft or N m."""
    return nm / NM_PER_LBF_FT if units == "in" else nm


def torque_unit(units: str) -> str:
    """Unit in which torque is read."""
    return "lbf ft" if units == "in" else "N m"


def torque_words(nm: float, units: str) -> str:
    """Say a torque with its unit."""
    return f"{torque_in(nm, units):.1f} {torque_unit(units)}" if np.isfinite(nm) else "anything"


def shoe_lines(linings: Linings | None, job: Job) -> list[str]:
    """What friction does to shoes on pivots; nothing where none is known."""
    if linings is None or not any(shoe.pivot for shoe in job.shoes):
        return []
    inches = job.units == "in"
    per = "lbf ft/100 lbf" if inches else "N m/kN"
    bite = torque_in(100 * N_PER_LBF, "in") if inches else 1000.0
    rows = []
    for i, shoe in enumerate(job.shoes):
        at = linings.grabs_at[i]
        rows.append(
            (
                str(i + 1),
                shoe.type or "by its arms",
                f"{linings.gain[i]:.2f}" if np.isfinite(linings.gain[i]) else "GRABS",
                f"{bite * linings.grip_m[i]:.2f}" if np.isfinite(linings.grip_m[i]) else "-",
                f"{at:.2f}" if np.isfinite(at) else "never",
                f"{at / linings.friction[i] - 1:+.0%}".replace("%", " %")
                if np.isfinite(at)
                else "-",
            )
        )
    heads = ("shoe", "type", "drag", per, "grabs at", "margin")
    lines = [
        *wrapping.wrapped("SHOES on pivots: what the drum's friction adds to their bite or takes"),
        *wrapping.table(heads, rows),
        *wrapping.wrapped(
            "Drag: normal force over that without friction (long lining, pressure as the sine of "
            f"the angle from the pivot). {per}: torque for a load left over at the stack. "
            "Grabs at: the friction from which on the shoe locks by itself; margin: how far above "
            "the lining's friction that is."
        ),
    ]
    close = linings.friction + 2 * linings.friction_sd >= linings.grabs_at
    if close.any():
        named = ", ".join(str(i + 1) for i in np.flatnonzero(close))
        lines += wrapping.wrapped(
            f"GRABS: within the doubt of its friction shoe {named} locks to the drum by itself as "
            "soon as it touches. A wet, glazed or new lining changes friction by more: move the "
            "pivot outwards, or turn the shoe round."
        )
    return lines


def torque_lines(table: Torque | None, units: str) -> list[str]:
    """Torque against speed, with the doubt of all together."""
    if table is None:
        return wrapping.wrapped(
            "No torque: add drum_radius_mm (or drum_radius_in) and friction under [clutch]."
        )

    def said(nm: float) -> str:
        return f"{torque_in(nm, units):.2f}" if np.isfinite(nm) else "grabs"

    _, shown = np.unique(np.round(table.rpm), return_index=True)  # shoes touch within one rpm
    rows = [
        (f"{table.rpm[k]:.0f}", said(table.total_nm[k]), said(table.total_sd_nm[k]),
         *map(said, table.shoe_nm[k]))
        for k in shown
    ]  # fmt: skip
    heads = ("rpm", "all", "+-", *(f"shoe {i + 1}" for i in range(table.shoe_nm.shape[1])))
    return [
        f"TORQUE in {torque_unit(units)} that the clutch carries before it slips",
        *wrapping.table(heads, rows),
        *wrapping.wrapped("+-: by friction_sd and the loads."),
    ]


def engine_lines(powered: Powered | None, job: Job) -> list[str]:
    """Where the clutch holds the engine, and its start."""
    if powered is None:
        return wrapping.wrapped(
            "No engine: give [engine] torque_file to see where the clutch holds full throttle, "
            "and what a start does."
        )
    lines = ["ENGINE", *_held(powered.holding, job)]
    if powered.lacking:
        return [
            *lines,
            *wrapping.wrapped(f"No start: add {', '.join(powered.lacking)} under [engine].", "  "),
        ]
    if powered.start is None:
        return [*lines, *wrapping.wrapped("No start: a shoe grabs.", "  ")]
    return [*lines, "", *start_lines(powered.start, powered.drum_rise_k, job)]


def _held(held: Holding, job: Job) -> list[str]:
    units = job.units
    if held.rpm is None:
        said = (
            f"never holds full throttle: up to {held.end_rpm:.0f} rpm, the end of the curve, the "
            "engine is stronger, and it slips all the way. Do not run it so"
        )
    else:
        doubt = "" if held.sd_rpm is None else f" +- {held.sd_rpm:.0f}"
        said = f"holds full throttle from {held.rpm:.0f}{doubt} rpm"
    lines = wrapping.wrapped(said, "  ")
    lines += wrapping.wrapped(
        f"engine's peak {torque_words(held.peak_nm, units)} at {held.peak_rpm:.0f} rpm: there the "
        f"clutch carries {f'{held.margin:.2f} times that' if isfinite(held.margin) else 'anything'}"
        + ("" if held.margin >= 1 else ", so it slips where the engine is strongest"),
        "  ",
    )
    for low, high in held.slips:
        lines += wrapping.wrapped(f"slips again from {low:.0f} to {high:.0f} rpm", "  ")
    if held.rpm is not None and not held.slips:
        lines += wrapping.wrapped(
            f"no slip above {held.rpm:.0f} rpm, up to the end of the curve at "
            f"{held.end_rpm:.0f} rpm",
            "  ",
        )
    return lines


def start_lines(run: Start, drum_rise_k: float | None, job: Job) -> list[str]:
    """One start from rest at full throttle."""
    lines = [f"START from rest, throttle opened at {job.engine.idle_rpm:.0f} rpm"]
    rows = [
        (
            event.what,
            f"{event.time_s:.2f} s",
            f"{event.engine_rpm:.0f}",
            f"{event.drum_rpm:.0f}",
            f"{event.distance_m:.1f} m",
        )
        for event in run.events
    ]
    lines += wrapping.table(("", "after", "engine rpm", "drum rpm", "way"), rows)
    lines += wrapping.wrapped(", ".join(distances(run)) + ".")
    lines += wrapping.wrapped(_heat(run, drum_rise_k) + ".")
    if run.lock is None:
        lines += wrapping.wrapped("It never locks up: what slips so long burns.")
    if run.events and run.events[0].what == "drags at idle":
        lines += wrapping.wrapped(
            "DRAGS AT IDLE: shoes touch below idle_rpm. Do not start this engine."
        )
    return [*lines, *wrapping.wrapped(COMPARES)]


def distances(run: Start) -> Sequence[str]:
    """Say the time to each distance."""
    return [
        f"{far:.0f} m not reached" if at is None else f"{far:.0f} m after {at:.2f} s"
        for far, at in zip(DISTANCES_M, run.to_m, strict=True)
    ]


def _heat(run: Start, drum_rise_k: float | None) -> str:
    said = (
        f"Slip puts {run.slip_j / 1000:.2f} kJ into linings and drum, at most "
        f"{run.peak_w / 1000:.1f} kW"
    )
    if drum_rise_k is None:
        return said + "; with drum_mass_g under [engine] the rise of the drum's temperature is told"
    return said + f": the drum warms by at most {drum_rise_k:.0f} K a start, all heat in the drum"
