"""What engagement speeds, and ways to other ones, rest on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer import text
from optimizer.clutch.engagement import balanced_load_n
from optimizer.clutch.shoes import shoes_of
from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import REACHED_RPM
from optimizer.match.workspace import Workspace
from optimizer.units import MM_PER_IN, N_PER_LBF
from optimizer.wrapping import Block, TextTable, plain

#: speed in rpm at which what throws a shoe out is told
AT_RPM = 1000.0


def engagement_why(now: Engagement, work: Workspace) -> str:
    """Say what the speeds rest on: what throws each shoe out, loads and their doubt."""
    return "".join(map(plain, _engagement(now, work)))


def _engagement(now: Engagement, work: Workspace) -> Iterator[Block]:
    units, shoes, how = work.job.units, shoes_of(work.job), now.hookup
    radius_mm = shoes.cg_radius_mm + shoes.outward * shoes.travel_mm
    sd_n = now.own_sd_n + 0.0 * how.work_n
    yield "WHY"
    yield TextTable(
        ("shoe", "mass", "radius", "arms", "thrown", "load", "+-"),
        [
            (
                str(k + 1),
                f"{shoes.mass_g[k]:.1f} g",
                text.length(float(radius_mm[k]), units),
                f"{shoes.lever[k]:.3f}",
                text.load(float(balanced_load_n(now.pull_kgm[k], AT_RPM)), units),
                text.load(float(how.work_n[k]), units),
                text.load(float(sd_n[k]), units),
            )
            for k in range(len(how.work_n))
        ],
        "A shoe touches where arms x mass x radius x (turning speed)^2 is the load of its stack. "
        f"Radius of the centre of gravity at the drum; arms of centre over stack; thrown: what "
        f"the stack holds back at {AT_RPM:.0f} rpm, which grows with the square of the speed.",
    )
    if now.running.stack_pull_kgm is not None:
        yield "Half of the springs' own mass is in what is thrown."
    if work.seen is None:
        yield "Masses, radii and arms are taken as the job gives them; no speed was seen yet."
    else:
        yield (
            f"A speed seen on the engine: shoes pull {work.seen.pull:.3f} times what the job's "
            f"masses and radii tell, known to {work.seen.pull_sd:.1%}; the masses above say so."
        )
    level = float((now.shared_n / how.work_n).mean())
    yield f"Loads are those of {now.source}" + (
        f", all together known to {level:.1%} beside their own doubt." if level else "."
    )
    mass, radius = float(shoes.mass_g.mean()), float(radius_mm.mean())
    long, unit = (0.01 * MM_PER_IN, "0.01 in") if units == "in" else (0.1, "0.1 mm")
    force, newton = (N_PER_LBF, "1 lbf") if units == "in" else (1.0, "1 N")
    half = how.mean_rpm / 2
    yield (
        f"All shoes alike: 1 g more mass is {-half / mass:+.1f} rpm, {unit} more radius "
        f"{-half * long / radius:+.1f} rpm, {newton} more load "
        f"{half * force / float(how.work_n.mean()):+.1f} rpm."
    )


def retarget_why(found: Retarget, units: str) -> str:
    """Say what loads the new speed takes, and by what the ways are put in order."""
    return "".join(map(plain, _retarget(found, units)))


def _retarget(found: Retarget, units: str) -> Iterator[Block]:
    now = found.now
    yield "WHY"
    yield TextTable(
        ("shoe", "touches now", "load now", "load then"),
        [
            (str(shoe), f"{rpm:.0f} rpm", text.load(float(load), units), text.load(then, units))
            for shoe, rpm, load, then in zip(
                np.arange(1, len(now.load_n) + 1),
                now.hookup.touch_rpm,
                now.load_n,
                found.target_n.tolist(),
                strict=True,
            )
        ],
        "What throws a shoe out grows with the square of the speed, so that each takes its load "
        f"times (new speed / old speed)^2 to touch at {found.target_rpm:.0f} rpm.",
    )
    if now.shared:
        yield f"The level of all loads is known to {now.shared:.1%}: all ways move with it."
    if found.numbered:
        yield TextTable(
            ("way", "rpm", "off", "band", "pressed", "chance", "minutes"),
            [
                (
                    str(number),
                    f"{one.hookup.mean_rpm:.0f}",
                    f"{one.misses_rpm(found.target_rpm):+.0f}",
                    f"{one.hookup.band_rpm:.1f}",
                    f"{one.share:.2f} h",
                    "-" if one.chance is None else text.percent(one.chance),
                    "-" if one.minutes is None else f"{one.minutes:.0f}",
                )
                for number, one in enumerate(found.numbered, 1)
            ],
            f"Ways with the bag come in this order: within {REACHED_RPM:.0f} rpm, pressing at "
            f"rest, in a band of {found.band_limit_rpm:.0f} rpm, of least work; then the workshop.",
        )
