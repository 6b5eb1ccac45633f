"""Pictures of engagement speeds: shoes, wear, torque, and ways to another speed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from optimizer.clutch.engagement import Hookup
from optimizer.clutch.engine import Torque
from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import REACHED_RPM
from optimizer.mechanics.disc import Array
from optimizer.report.hookup_engine import torque_in, torque_unit
from optimizer.report.labels import spread
from optimizer.report.pictures import (
    ACCENT,
    BAND,
    INK,
    MUTED,
    STYLES,
    WARM,
    blank_axes,
    blank_figure,
    note,
)
from optimizer.units import MM_PER_IN

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: letters of what a way is, beside the line
LONGEST = 44
#: least room between two labels, as a share of the height
LABEL = 0.062


def engagement_picture(now: Engagement, units: str) -> Figure:
    """Draw the shoes on a fine scale of speeds, wear against the tolerance, and the torque.

    Wear and torque are left out where they are not known.
    """
    from matplotlib.figure import Figure

    rows = 1 + bool(now.drifts)
    figure = Figure(figsize=(10.0, 0.8 + 3.4 * rows), layout="constrained")
    wide = 1 + (now.torque is not None)
    _shoes(figure.add_subplot(rows, wide, 1), now.hookup)
    if now.torque is not None:
        _torque(figure.add_subplot(rows, 2, 2), now.torque, units)
    if now.drifts:
        means, bands = (figure.add_subplot(2, 2, place) for place in (3, 4))
        _wear(means, bands, now, units)
    return figure


def _shoes(axes: Any, hookup: Hookup) -> None:
    """Draw a point a shoe with its doubt, and the band from the first to the last."""
    shoes = len(hookup.touch_rpm)
    first, last = float(hookup.touch_rpm.min()), float(hookup.touch_rpm.max())
    blank_axes(axes, "Engagement speed, rpm", "", "A point a shoe, its bar one sd of doubt")
    axes.axvspan(first, last, color=BAND, zorder=0)
    axes.errorbar(
        hookup.touch_rpm, range(shoes), xerr=hookup.touch_sd_rpm, fmt="o", color=INK, markersize=6,
        markerfacecolor="white", elinewidth=1.2, capsize=4,
    )  # fmt: skip
    for edge in (first, last):
        axes.axvline(edge, color=MUTED, linewidth=0.8)
    for shoe, rpm in enumerate(hookup.touch_rpm):
        note(axes, f"{rpm:.1f}", (float(rpm), shoe), (0, 8), size=8.5, ha="center")
    truly = (
        ""
        if hookup.band_ninety_rpm is None
        else f",\ntruly below {hookup.band_ninety_rpm:.0f} in nine clutches of ten"
    )
    axes.annotate(
        f"hookup band {hookup.band_rpm:.1f} rpm as predicted{truly}",
        (0.02, 0.02), xycoords="axes fraction", fontsize=8.5, color=MUTED,
    )  # fmt: skip
    axes.set_yticks(range(shoes), [f"shoe {shoe + 1}" for shoe in range(shoes)])
    axes.set_ylim(shoes - 0.1, -0.5)
    axes.ticklabel_format(axis="x", useOffset=False)
    axes.grid(axis="y", visible=False)
    axes.margins(x=0.12)


def _wear(means: Any, bands: Any, now: Engagement, units: str) -> None:
    """Draw mean speed and band against wear, a line a kind, the tolerance as a strip."""
    tolerance, drifts = now.tolerance, now.drifts
    long = MM_PER_IN if units == "in" else 1.0
    wear = f"Wear, {'in' if units == 'in' else 'mm'}"
    blank_axes(means, wear, "Mean less the one asked for, rpm", "Wear: the mean and its tolerance")
    blank_axes(bands, wear, "Band, rpm", "Wear: the band and its tolerance")
    means.axhspan(-tolerance.off_rpm, tolerance.off_rpm, color=BAND, zorder=0)
    bands.axhspan(0, tolerance.band_rpm, color=BAND, zorder=0)
    for axes, new, values in (
        (means, now.hookup.mean_rpm - tolerance.rpm, [d.mean_rpm - tolerance.rpm for d in drifts]),
        (bands, now.hookup.band_rpm, [d.band_rpm for d in drifts]),
    ):
        lines = [
            (drift.name, np.append(0.0, drift.amount_mm) / long, np.append(new, value))
            for drift, value in zip(drifts, values, strict=True)
        ]
        _lines(axes, lines)
        axes.set_xlim(0, 1.7 * max(float(x.max()) for _, x, _ in lines))
    means.axhline(0, color=MUTED, linewidth=0.8)


def _torque(axes: Any, table: Torque, units: str) -> None:
    """Draw what the clutch carries before it slips, of all shoes and of each."""
    per_nm = torque_in(1.0, units)
    blank_axes(
        axes, "Speed, rpm", f"Torque, {torque_unit(units)}", "Torque before the clutch slips"
    )
    shoes = [(f"shoe {i + 1}", table.rpm, s * per_nm) for i, s in enumerate(table.shoe_nm.T)]
    _lines(axes, [("all shoes", table.rpm, table.total_nm * per_nm), *shoes])
    axes.set_ylim(bottom=0)
    axes.set_xlim(right=table.rpm[-1] + 0.5 * np.ptp(table.rpm))


def _lines(axes: Any, lines: Sequence[tuple[str, Array, Array]]) -> None:
    """Draw lines that differ without colour, named at their ends; like ends share a name."""
    for number, (_, x, y) in enumerate(lines):
        style, colour = STYLES[number % len(STYLES)], (INK, ACCENT)[number % 2]
        axes.plot(x, y, linestyle=style, color=colour, linewidth=2.0 if number < 4 else 1.2)
    axes.margins(x=0.0, y=0.12)  # labels keep clear of the title
    low, high = axes.get_ylim()
    shared: dict[tuple[float, float], list[str]] = {}
    for name, x, y in lines:
        last = np.flatnonzero(~np.isnan(y))[-1]
        end = float(x[last]), round(float(y[last]) / (high - low), 2)
        shared.setdefault(end, []).append(name)
    ends = [y * (high - low) for _, y in shared]
    beside = spread(ends, LABEL * (high - low))
    for ((right, _), names), end_y, at in zip(shared.items(), ends, beside, strict=True):
        axes.annotate(
            " = ".join(names), (right, end_y), xytext=(1.03 * right, at), textcoords="data",
            fontsize=8, va="center", color=INK,
            arrowprops={"arrowstyle": "-", "color": MUTED, "lw": 0.5},
        )  # fmt: skip


def retarget_picture(found: Retarget) -> Figure:
    """Draw today's hookup and every way: a point a shoe with its doubt, the speed asked for."""
    rows: list[tuple[str, Hookup]] = [("today", found.now.hookup)]
    rows += [
        (f"{number}. {way.what[0].upper()}{way.what[1:]}: {way.stacks[0].pattern}", way.hookup)
        for number, way in enumerate(found.ways, 1)
    ]
    if found.nearest is not None:
        rows.append(("nearest that can be built", found.nearest.hookup))
    figure, axes = blank_figure(
        "Engagement speed, rpm", "", f"From {found.now.hookup.mean_rpm:.0f} rpm to "
        f"{found.target_rpm:.0f} rpm: a point a shoe, a bar its doubt",
    )  # fmt: skip
    axes.set_title(axes.get_title(loc="left"), loc="left", fontsize=9.5, color=INK)
    target = found.target_rpm
    axes.axvspan(target - REACHED_RPM, target + REACHED_RPM, color=BAND, zorder=0)
    axes.axvline(target, color=WARM, linestyle="--", linewidth=1.2)
    for row, (_, hookup) in enumerate(rows):
        shoes = len(hookup.touch_rpm)
        # shoes of one way stand a little above each other: their bars would lie on one line
        at = row + 0.16 * (np.arange(shoes) - (shoes - 1) / 2)
        axes.errorbar(
            hookup.touch_rpm, at, xerr=hookup.touch_sd_rpm, fmt="o", color=INK if row else ACCENT,
            markersize=5, markerfacecolor="white", elinewidth=1.0, capsize=2,
        )  # fmt: skip
        axes.annotate(
            f"{hookup.mean_rpm:.0f}, band {hookup.band_rpm:.1f}",
            (float(hookup.mean_rpm), row - 0.34), ha="center", va="center", fontsize=8,
            color=MUTED,
        )  # fmt: skip
    axes.set_yticks(range(len(rows)), [_short(name) for name, _ in rows], parse_math=False)
    axes.set_ylim(len(rows) - 0.4, -0.75)
    note(axes, "asked", (target, -0.68), (3, 0), color=WARM, va="top")
    axes.grid(axis="y", visible=False)
    axes.margins(x=0.12)
    return figure


def _short(name: str) -> str:
    """Break a name in two lines, and cut what does not fit them."""
    said = name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"
    if len(said) <= LONGEST // 2:
        return said
    middle = said.rfind(" ", 0, LONGEST // 2 + 4)
    return said if middle < 0 else f"{said[:middle]}\n{said[middle + 1 :]}"
