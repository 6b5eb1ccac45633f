"""Ways to another engagement speed as points on a line of speeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.clutch.engagement import Hookup
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import REACHED_RPM
from optimizer.report.pictures import ACCENT, INK, MUTED, WARM, blank_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: letters of what a way is, beside the line
LONGEST = 44


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
    axes.axvspan(target - REACHED_RPM, target + REACHED_RPM, color="#e3ecd9", zorder=0)
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
    axes.annotate(
        "asked", (target, -0.68), xytext=(3, 0), textcoords="offset points", fontsize=9,
        va="top", color=WARM,
    )  # fmt: skip
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
