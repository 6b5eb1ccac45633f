"""Sets against spread: how many of a lot lie within it, in a few words and as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from optimizer import text
from optimizer.errors import InputError
from optimizer.mechanics.disc import Array
from optimizer.model.plan import Plan
from optimizer.report.chart import Chart, chart
from optimizer.report.figures import Figures
from optimizer.report.pictures import ACCENT, INK, MUTED, blank_figure, picture
from optimizer.units import N_PER_LBF

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: what the two curves count
MEASURED, TRULY = "dealt", "truly"


def trade_words(plan: Plan) -> str:
    """Say how many sets lie within some spreads; nothing where the plan does not tell."""
    if not plan.within:
        return ""
    u = plan.units
    truly = ", ".join(
        f"{one.likely:.0f} within {text.load(one.spread_n, u)}" for one in plan.within[1:]
    )
    counts = {one.sets for one in plan.within}
    if len(counts) == 1:
        measured = f"all {counts.pop()} within {text.load(plan.within[0].spread_n, u)}"
    else:
        measured = ", ".join(
            f"{one.sets} within {text.load(one.spread_n, u)}" for one in plan.within[1:]
        )
    return (
        f"Sets against spread, as measured: {measured}. Truly, as first built and before the "
        f"bench mends it, of the {len(plan.sets)} sets likely {truly}."
    )


def trade_chart(plan: Plan) -> Chart | None:
    """Lay the same out as two curves; None where the plan does not tell."""
    if not plan.within:
        return None
    spread, counts = _curves(plan)
    return chart(
        "Sets within a spread: as measured, and truly as first built",
        trade_words(plan),
        np.stack([spread, spread], axis=1),
        counts,
        [MEASURED, TRULY],
        (f"Spread of a set, {Figures(plan.units).load_unit}", "Sets"),
        (0.0, 1.05 * float(counts.max())),
        None,
        [(_shown(plan.spread_tolerance_n, plan), "tolerance")],
        [],
    )


def trade_picture(plan: Plan) -> Figure:
    """Draw the same for a file."""
    spread, counts = _curves(plan)
    unit = Figures(plan.units).load_unit
    title = f"{len(plan.sets)} sets: how many lie within a spread"
    figure, axes = blank_figure(f"Spread of a set, {unit}", "Sets", title)
    axes.plot(spread, counts[:, 0], color=INK, linewidth=1.4, label="as measured")
    axes.plot(
        spread, counts[:, 1], color=ACCENT, linewidth=2.2, linestyle="--",
        label="truly, as first built, before the bench mends it",
    )  # fmt: skip
    axes.axvline(_shown(plan.spread_tolerance_n, plan), color=MUTED, linewidth=0.8, linestyle=":")
    axes.set_ylim(bottom=0)
    axes.set_xlim(left=0)
    figure.legend(loc="outside lower center", fontsize=8, ncols=2, frameon=False)
    return figure


def drawn(plan: Plan, path: Path) -> bytes:
    """Draw a picture file of the kind that its suffix asks for.

    Raises
    ------
    InputError
        where the bag gave one set alone.
    """
    if not plan.within:
        raise InputError(
            "The bag gives one set: there is nothing to draw.", "--plot", "Leave it out."
        )
    return picture(trade_picture(plan), path)


def _curves(plan: Plan) -> tuple[Array, Array]:
    """Spreads (K) in the units shown, from 0, and the sets (K, 2) within each."""
    spread = np.array([0.0, *(_shown(one.spread_n, plan) for one in plan.within)])
    counts = np.array([(0.0, 0.0), *((one.sets, one.likely) for one in plan.within)])
    # what is measured steps up at once: sets are evened out to far less than the first spread
    counts[0, 0] = counts[1, 0]
    return spread, counts


def _shown(load_n: float, plan: Plan) -> float:
    return load_n / N_PER_LBF if plan.units == "in" else load_n
