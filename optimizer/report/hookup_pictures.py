"""Pictures of a clutch on its engine: its shoes to scale, torque against speed, starts."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from optimizer import text
from optimizer.clutch.engine import curve_nm, torque
from optimizer.clutch.start import DISTANCES_M, Start
from optimizer.hookup.now import Engagement
from optimizer.model.job import Job
from optimizer.model.running import TorqueCurve
from optimizer.model.shoe import Shoe
from optimizer.report.hookup_engine import COMPARES, torque_in, torque_unit
from optimizer.report.pictures import ACCENT, INK, MUTED, STYLES, WARM, blank_figure, note, picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: points of a curve or an arc
POINTS = 200
#: colours of the setups compared, told apart by their lines as well
COLOURS = (ACCENT, WARM, INK, MUTED)


def engagement_pictures(now: Engagement, curve: TorqueCurve | None, job: Job) -> dict[str, bytes]:
    """Return the pictures of an engagement, SVG by name: of what the job tells, and no others."""
    figures: dict[str, Figure] = {}
    if now.linings is not None:
        figures["shoes.svg"] = shoes_picture(job)
        figures["torque.svg"] = torque_doubt_picture(now, curve, job.units)
    if now.powered is not None and now.powered.start is not None:
        title = f"A start from rest: {now.source}"
        figures["start.svg"] = start_picture([""], [now.powered.start], title)
    return {name: picture(figure, Path(name)) for name, figure in figures.items()}


def torque_doubt_picture(now: Engagement, curve: TorqueCurve | None, units: str) -> Figure:
    """Draw what the clutch carries with its doubt, and what the engine gives."""
    assert now.linings is not None
    pull, table = now.pull_kgm, now.torque
    assert table is not None
    unit, per_nm = torque_unit(units), torque_in(1.0, units)
    figure, axes = blank_figure("Speed, rpm", f"Torque, {unit}", "What the clutch carries")
    end = float(table.rpm[-1]) if curve is None else max(curve.rpm[-1], float(table.rpm[-1]))
    rpm = np.linspace(0.9 * float(now.hookup.touch_rpm.min()), end, POINTS)
    carried = torque(pull, now.linings, now.hookup.work_n, rpm, now.own_sd_n, now.shared_n)
    total, sd = carried.total_nm * per_nm, carried.total_sd_nm * per_nm
    axes.fill_between(
        rpm, np.maximum(total - 2 * sd, 0.0), total + 2 * sd, color="#d6e6e4", label="95 % doubt"
    )
    axes.plot(rpm, total, color=ACCENT, linewidth=2.0, label="all shoes")
    for i, shoe in enumerate(carried.shoe_nm.T):
        style = STYLES[(i + 1) % len(STYLES)]
        axes.plot(rpm, shoe * per_nm, linestyle=style, color=MUTED, linewidth=1.1,
                  label=f"shoe {i + 1}")  # fmt: skip
    top = float(total[np.isfinite(total)].max())
    if curve is not None:
        engine = curve_nm(curve)(rpm) * per_nm
        axes.plot(rpm, engine, "--", color=WARM, linewidth=2.0, label="engine, full throttle")
        top = min(top, 3.0 * float(engine.max()))
        held = None if now.powered is None else now.powered.holding.rpm
        if held is not None:
            at = float(curve_nm(curve)(held)) * per_nm
            axes.plot(held, at, "o", color=INK, markerfacecolor="white")
            note(axes, f"holds from {held:.0f} rpm", (held, at), (8, -14))
    axes.set_ylim(0, 1.05 * top)
    axes.legend(facecolor="white", edgecolor="white", framealpha=1, fontsize=9)
    return figure


def start_picture(names: Sequence[str], runs: Sequence[Start], title: str) -> Figure:
    """Draw engine and drum speed against time, and the power of the slip, of up to four setups."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 6.4), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1.4))
    figure.suptitle(title, x=0.01, ha="left", fontsize=11, color=INK)
    for k, (name, run) in enumerate(zip(names, runs, strict=True)):
        colour = COLOURS[k % len(COLOURS)]
        above.plot(
            run.time_s, run.engine_rpm, color=colour, linewidth=1.8, label=f"{name} engine".strip()
        )
        above.plot(run.time_s, run.drum_rpm, "--", color=colour, linewidth=1.4,
                   label=f"{name} drum".strip())  # fmt: skip
        below.plot(run.time_s, run.slip_w / 1000, STYLES[k % len(STYLES)], color=colour)
        if run.lock is not None:
            above.plot(run.lock.time_s, run.lock.engine_rpm, "o", color=colour,
                       markerfacecolor="white")  # fmt: skip
            said = f"locked after {run.lock.distance_m:.1f} m"
            at_lock = run.lock.time_s, run.lock.engine_rpm
            note(above, said, at_lock, (6, -14 - 13 * k), size=8, color=colour)
        for far, at in zip(DISTANCES_M, run.to_m, strict=True):
            if at is not None:
                above.axvline(at, color=colour, linewidth=0.7, linestyle=":")
                if k == 0:
                    note(above, f"{far:.0f} m", (at, 0), (3, 4), size=8, color=MUTED)
    above.set_ylabel("Speed, rpm", color=INK)
    above.set_ylim(bottom=0)
    below.set_ylabel("Slip, kW", color=INK)
    below.set_ylim(bottom=0)
    below.set_xlabel("Time, s\n" + "\n".join(wrap(COMPARES, 100)), color=INK, fontsize=9)
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(color="#d8dedd", linewidth=0.6)
    above.legend(facecolor="white", edgecolor="white", fontsize=9, loc="upper left")
    return figure


def shoes_picture(job: Job) -> Figure:
    """Draw the shoes on their pivots to scale, looked at so that the clutch turns to the left.

    Pivot, lining and centre of gravity are where the job says, its numbers beside them; what
    it does not say (the shape of the shoe) is not drawn.
    """
    figure, axes = blank_figure("", "", "The shoes as the job gives them, to scale")
    drums = [shoe.drum_radius_mm for shoe in job.shoes if shoe.drum_radius_mm is not None]
    radius = max(drums, default=1.0)
    turn = np.linspace(0, 2 * np.pi, POINTS)
    axes.plot(radius * np.cos(turn), radius * np.sin(turn), color=INK, linewidth=1.6)
    axes.plot(0, 0, "+", color=INK, markersize=10)
    bent = {"arrowstyle": "->", "color": MUTED, "connectionstyle": "arc3,rad=.5"}
    ends = (-0.2 * radius, 0.1 * radius), (0.2 * radius, 0.1 * radius)
    axes.annotate("", *ends, arrowprops=bent)
    axes.annotate("turns", (0, -0.14 * radius), ha="center", fontsize=9, color=MUTED)
    said: dict[str, list[int]] = {}
    for number, shoe in enumerate(job.shoes):
        _shoe(axes, shoe, 360.0 * number / len(job.shoes) + 90.0, str(number + 1), radius)
        said.setdefault(_given(shoe, job.units), []).append(number + 1)
    lines = [
        f"{'all shoes' if len(said) == 1 else 'shoe ' + ', '.join(map(str, of))}\n{words}"
        for words, of in said.items()
    ]
    axes.annotate("\n\n".join(lines), (1.25 * radius, radius), va="top", fontsize=9, color=INK,
                  annotation_clip=False)  # fmt: skip
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_xlim(-1.1 * radius, 2.3 * radius)
    return figure


def _given(shoe: Shoe, units: str) -> str:
    """Say the numbers of a shoe that the job gives, a line each."""
    pivot = shoe.pivot
    rows = [("drum radius", shoe.drum_radius_mm), ("centre of gravity", shoe.cg_radius_mm)]
    if pivot is None:
        kind = "slides out" if shoe.type == "sliding" else "by its arms, place not given"
        rows += [("stack's arm", shoe.arm_stack_mm), ("lining's arm", shoe.arm_lining_mm)]
        angles: list[str] = []
    else:
        kind = f"{shoe.type}, on a pivot"
        rows += [("pivot", pivot.radius_mm), ("stack's arm", shoe.arm_stack_mm)]
        angles = [
            f"centre at {pivot.cg_deg:g}° from the pivot",
            f"lining from {pivot.heel_deg:g}° to {pivot.toe_deg:g}°",
        ]
    lengths = [f"{name} {text.length(mm, units)}" for name, mm in rows if mm is not None]
    friction = [] if shoe.friction is None else [f"friction {shoe.friction:g}"]
    return "\n".join([kind, *lengths, *angles, *friction])


def _shoe(axes: Any, shoe: Shoe, start: float, name: str, drum: float) -> None:
    """Draw one shoe whose pivot, or middle, is at `start` degrees if the job does not say."""
    pivot = shoe.pivot
    zero = start if shoe.pivot_angle is None else shoe.pivot_angle + 90.0
    # looked at turning to the left: a leading lining runs ahead of its pivot
    way = 1.0 if pivot is None or pivot.leading else -1.0

    def at(r: float, degrees: float) -> tuple[float, float]:
        q = radians(zero + way * degrees)
        return r * cos(q), r * sin(q)

    inside = 0.88 * (drum if pivot is None else pivot.radius_mm)
    axes.annotate(name, at(inside, -7.0 if pivot else 0.0), ha="center", va="center", fontsize=11,
                  color=INK, weight="bold")  # fmt: skip
    cg = shoe.cg_radius_mm
    if pivot is None:
        if cg is not None:
            axes.plot(*at(cg, 0.0), "s", color=ACCENT, markersize=6)
        return
    along = np.linspace(pivot.heel_deg, pivot.toe_deg, POINTS)
    axes.plot(*np.array([at(0.98 * drum, q) for q in along]).T, color=WARM, linewidth=6,
              solid_capstyle="butt")  # fmt: skip
    for r, degrees in ((pivot.radius_mm, 0.0), (drum, pivot.heel_deg), (drum, pivot.toe_deg)):
        axes.plot(*zip((0, 0), at(r, degrees), strict=True), ":", color=MUTED, linewidth=0.7)
    axes.plot(*at(pivot.radius_mm, 0.0), "o", color=INK, markersize=7)
    if cg is not None:
        centre = at(cg, pivot.cg_deg)
        axes.plot(*zip(at(pivot.radius_mm, 0.0), centre, strict=True), color=ACCENT, linewidth=1.0)
        axes.plot(*centre, "s", color=ACCENT, markersize=6)
