"""Pictures from the command line, SVG or PNG: the bag, one stack's curve."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from optimizer import text
from optimizer.errors import InputError
from optimizer.io.bag.rows import place
from optimizer.match.holdings import REFERENCE_SHARE
from optimizer.match.one_stack import OneStack
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array, discs
from optimizer.mechanics.packet import load, packets
from optimizer.model.bag import Disc
from optimizer.model.job import Job
from optimizer.report.figures import Figures
from optimizer.units import MM_PER_IN, N_PER_LBF

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, MUTED, ACCENT, WARM = "#1d2a30", "#51606a", "#0d5c63", "#a4531f"
#: the strip of what is asked for
BAND = "#e3ecd9"
#: line styles that differ without colour, one a shoe
STYLES: tuple[Any, ...] = ("-", "--", "-.", ":", (0, (9, 3)), (0, (5, 1, 1, 1, 1, 1)))
GRID = 60
LINES = 7


def blank_figure(x_name: str, y_name: str, title: str) -> tuple[Figure, Any]:
    """Return a figure without a display, and its axes; no text is read as mathematics."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 5.0), layout="constrained")
    axes = figure.add_subplot()
    blank_axes(axes, x_name, y_name, title)
    return figure, axes


def blank_axes(axes: Any, x_name: str, y_name: str, title: str) -> None:
    """Name axes and leave only what is needed of them."""
    axes.set_xlabel(x_name, color=INK)
    axes.set_ylabel(y_name, color=INK)
    axes.set_title(title, loc="left", fontsize=11, color=INK, parse_math=False)
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(color="#d8dedd", linewidth=0.6)
    axes.set_axisbelow(True)


def note(
    axes: Any,
    words: str,
    at: tuple[float, float],
    aside: tuple[float, float],
    size: float = 9,
    color: str = INK,
    **more: Any,
) -> None:
    """Write words beside a point, `aside` in points; no text is read as mathematics."""
    axes.annotate(
        words, at, xytext=aside, textcoords="offset points", fontsize=size, color=color,
        parse_math=False, **more,
    )  # fmt: skip


def picture(figure: Figure, path: Path) -> bytes:
    """Return a figure as the file that the suffix of `path` asks for.

    Raises
    ------
    InputError
        for a suffix other than .svg and .png.
    """
    check_suffix(path)
    from matplotlib import rc_context

    stream = BytesIO()
    same: Any = {"svg.hashsalt": "evenstack", "svg.fonttype": "none"}
    kind = path.suffix.lower()[1:]
    with rc_context(same):
        figure.savefig(
            stream, format=kind, dpi=150, metadata={"Date": None} if kind == "svg" else None
        )
    return stream.getvalue()


def check_suffix(path: Path) -> None:
    """Refuse a file that is not to be .svg or .png.

    Raises
    ------
    InputError
        for any other suffix.
    """
    if path.suffix.lower() not in (".svg", ".png"):
        raise InputError(
            f"Expected a file ending in .svg or .png, got {path.name}.",
            "--plot",
            "Name it such as picture.svg.",
        )


def bag_picture(work: Workspace) -> Figure:
    """Draw thickness against cone height, sharp discs and dressed ones apart, with equal loads.

    The lines of a panel are the load of one disc of its commonest size at a common deflection:
    discs on one line push alike there. Discs that the answer talks of are named.
    """
    from matplotlib.figure import Figure

    groups = [
        (marker, colour, [d for d in work.bag.discs if d.edge == edge])
        for edge, marker, colour in (("dressed", "s", ACCENT), ("sharp", "^", WARM))
    ]
    groups = [group for group in groups if group[2]]
    figure = Figure(figsize=(2.2 + 5.0 * len(groups), 5.0), layout="constrained")
    named = _named(work)
    for at, (marker, colour, discs_) in enumerate(groups, 1):
        _panel(figure.add_subplot(1, len(groups), at), marker, colour, discs_, named, work)
    return figure


def _panel(
    axes: Any, marker: str, colour: str, all_: Sequence[Disc], named: set[str], work: Workspace
) -> None:
    """Draw the discs of one edge among lines of equal load of such discs."""
    units = work.job.units
    unit = Figures(units).length_unit
    long = MM_PER_IN if units == "in" else 1.0
    usual, like = _commonest(all_)
    deflection = REFERENCE_SHARE * float(np.median([d.cone_height_mm for d in like]))
    count = f"{len(all_)} {usual.edge} disc{'' if len(all_) == 1 else 's'}"
    blank_axes(
        axes, f"Thickness, {unit}", f"Cone height, {unit}",
        f"{work.bag.path.name}: {count}\n"
        f"a line joins equal loads of them, pressed {text.length(deflection, units)}",
    )  # fmt: skip
    axes.plot(
        [d.thickness_mm / long for d in all_], [d.cone_height_mm / long for d in all_],
        marker, color=colour, markersize=5, markerfacecolor="none",
    )  # fmt: skip
    for disc in all_:
        if disc.name in named:
            at = disc.thickness_mm / long, disc.cone_height_mm / long
            note(axes, disc.name, at, (6, 4), size=8)
    _iso_loads(axes, usual, all_, like, deflection, work)


def _named(work: Workspace) -> set[str]:
    """Discs that the answer talks of: those a warning is about, the one that is drawn furthest."""
    bag = work.bag
    named = {
        disc.name
        for disc in bag.discs
        if any(w.startswith(f"{place(bag.path.name, disc.line, disc.name)}:") for w in bag.warnings)
    }
    off = np.abs(work.belief.cone_height_mm - [disc.cone_height_mm for disc in bag.discs])
    return named | ({bag.discs[int(off.argmax())].name} if off.max() > 0 else set())


def _commonest(all_: Sequence[Disc]) -> tuple[Disc, list[Disc]]:
    """Return a disc of the commonest size, and all of that size."""
    kinds: dict[tuple[float, float], list[Disc]] = {}
    for disc in all_:
        kinds.setdefault((disc.od_mm, disc.id_mm), []).append(disc)
    like = max(kinds.values(), key=len)
    return like[0], like


def _iso_loads(
    axes: Any,
    usual: Disc,
    all_: Sequence[Disc],
    like: Sequence[Disc],
    deflection_mm: float,
    work: Workspace,
) -> None:
    """Draw lines of equal load over the part of the picture that holds the discs."""
    figures = Figures(work.job.units)
    strong, long = (N_PER_LBF, MM_PER_IN) if work.job.units == "in" else (1.0, 1.0)
    thickness = _around([d.thickness_mm for d in all_])
    cone = _around([d.cone_height_mm for d in all_])
    cone = cone[cone > deflection_mm]
    if len(cone) < 2:
        return
    t, h = np.meshgrid(thickness, cone)
    flat = float(np.median([d.flat_mm for d in like]))
    at = _loads(t, h, usual, flat, deflection_mm, work) / strong
    lines = axes.contour(
        t / long, h / long, at, LINES, colors=MUTED, linewidths=0.8, linestyles="--"
    )
    axes.clabel(lines, fontsize=8, fmt=lambda level: f"{level:g} {figures.load_unit}")


def _loads(
    t: Array, h: Array, usual: Disc, flat_mm: float, deflection_mm: float, work: Workspace
) -> Array:
    job: Job = work.job
    grid = discs(
        usual.od_mm, usual.id_mm, t.ravel(), h.ravel(), flat_mm, job.disc.modulus_mpa,
        job.disc.poisson,
    )  # fmt: skip
    p = packets(grid, np.arange(t.size)[:, None], work.task.model)
    return load(p, p.free_mm - deflection_mm).reshape(t.shape)


def _around(values: Sequence[float]) -> Array:
    low, high = min(values), max(values)
    margin = max(0.08 * (high - low), 0.003 * high)
    return np.linspace(low - margin, high + margin, GRID)


def stack_picture(one: OneStack, job: Job) -> Figure:
    """Draw the load of one stack against travel, with rest, work and worn marked."""
    figures = Figures(one.units)
    strong, long = (N_PER_LBF, MM_PER_IN) if one.units == "in" else (1.0, 1.0)
    figure, axes = blank_figure(
        f"Travel, {figures.length_unit}",
        f"Load, {figures.load_unit}",
        f"Shoe {one.shoe}: {' '.join(text.packet(p) for p in one.packets)}"[:90],
    )
    travel, force = np.array(one.table).T
    axes.plot(travel / long, force / strong, color=ACCENT, linewidth=1.8)
    for name, at, load_n, aside in (
        ("at rest", 0.0, one.rest_load_n, (8, -12)),
        ("at the travel", one.travel_mm, one.working_load_n, (8, -12)),
        ("worn", one.worn_travel_mm, one.worn_load_n, (-8, 4)),
    ):
        axes.plot(at / long, load_n / strong, "o", color=INK, markerfacecolor="white")
        side = "left" if aside[0] > 0 else "right"
        said = f"{name}: {text.load(load_n, one.units)}"
        note(axes, said, (at / long, load_n / strong), aside, ha=side)
    axes.set_xlim(right=1.3 * one.worn_travel_mm / long)
    top = max(float(force.max()), one.worn_load_n)
    if job.target.load_n is not None:
        low, high = (job.target.load_n + s * job.target.load_tolerance_n for s in (-1, 1))
        axes.axhspan(low / strong, high / strong, color=BAND, zorder=0)
        note(axes, "target", (0, high / strong), (2, 2), color=MUTED)
        top = max(top, high)
    axes.set_ylim(0, 1.1 * top / strong)
    return figure
