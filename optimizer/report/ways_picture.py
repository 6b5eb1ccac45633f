"""Ways as curves: how likely the set is truly matched after so many minutes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.report.pictures import ACCENT, INK, MUTED, STYLES, blank_figure
from optimizer.report.ways_card import best_sentence
from optimizer.ways.compare import Comparison, WayResult
from optimizer.wrapping import wrapped

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def ways_picture(found: Comparison) -> Figure:
    """Draw minutes against the chance that a way has ended by then, matched; the best in colour."""
    title = "\n".join(wrapped(best_sentence(found)))
    figure, axes = blank_figure("Minutes from here", "Chance of being done and matched", title)
    axes.set_title(axes.get_title(loc="left"), loc="left", fontsize=9.5, color=INK)
    for at, told in enumerate(found.told[: len(STYLES)]):
        minutes, chance = curve(told)
        axes.plot(
            minutes, chance, drawstyle="steps-post", linestyle=STYLES[at],
            color=INK if at else ACCENT, linewidth=1.1 if at else 2.2, label=told.way.name,
        )  # fmt: skip
    axes.axhline(found.stop_at, color=MUTED, linewidth=0.8, linestyle=":")
    axes.set_ylim(0, 1.02)
    axes.set_xlim(left=0)
    figure.legend(loc="outside lower center", fontsize=8, ncols=2, frameon=False)
    return figure


def curve(told: WayResult) -> tuple[list[float], list[float]]:
    """Minutes, and the share of benches that have ended by then weighted by their chance."""
    minutes, said = told.of("minutes"), told.of("said")
    order = np.argsort(minutes, kind="stable")
    reached = np.cumsum(said[order]) / len(said)
    return [0.0, *minutes[order].tolist()], [0.0, *reached.tolist()]
