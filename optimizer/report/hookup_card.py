"""Engagement and ways to another hookup as readable text of at most 80 columns."""

from __future__ import annotations

import numpy as np

from optimizer import text, wrapping
from optimizer.clutch.drift import Drift
from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import REACHED_RPM, Way
from optimizer.model.job import Job
from optimizer.model.plan import PlanStack
from optimizer.report.hookup_engine import engine_lines, shoe_lines, torque_lines
from optimizer.units import MM_PER_IN, N_PER_LBF

CAUTIONS = (
    "Cautions: the maker's speed limits of clutch and engine stand above anything here; a drum "
    "burst throws steel, so never run beyond them, never uncovered, never with a cracked or "
    "blued drum. Below engagement a shoe must hang free: if it drags at idle, do not start. "
    "A late or slow hookup slips and heats: lining, drum and discs that have been blue are "
    "scrap, hot discs lose load, and what was measured cold no longer holds. Compressed "
    "stacks store energy: guided fixture and eye protection.",
)
#: said once wherever speeds are shown
SHARE = (
    "What all shoes share moves them together: one per cent in load, mass or radius is half a "
    "per cent in speed. The load formula is good to some per cent until a stack has been on "
    "the gauge; a speed seen on the engine settles the rest."
)


def engagement_card(now: Engagement, job: Job, warnings: tuple[str, ...]) -> str:
    """Write what `engage` found."""
    how, units = now.hookup, job.units
    lines = ["ENGAGEMENT", f"of {now.source}", ""]
    rows = []
    for i, load in enumerate(how.work_n):
        rest = "-" if now.rest_n is None else text.load(float(now.rest_n[i]), units)
        moves = "-" if now.moves_rpm is None else f"{now.moves_rpm[i]:.0f} rpm"
        doubt = "" if how.touch_sd_rpm is None else f" +- {how.touch_sd_rpm[i]:.0f}"
        touch = f"{how.touch_rpm[i]:.0f}{doubt} rpm"
        rows += [(str(i + 1), rest, moves, text.load(float(load), units), touch)]
    lines += wrapping.table(("shoe", "at rest", "moves at", "at the drum", "touches at"), rows)
    first, last = int(how.touch_rpm.argmin()) + 1, int(how.touch_rpm.argmax()) + 1
    says = (
        f"Hookup band, first shoe ({first}) to last ({last}): {how.band_rpm:.1f} rpm as predicted."
    )
    if how.band_median_rpm is not None:
        says += (
            f" With the doubt of the loads it is as likely above as below "
            f"{how.band_median_rpm:.0f} rpm, and above {how.band_ninety_rpm:.0f} rpm in one "
            "clutch of ten."
        )
    lines += ["", *wrapping.wrapped(says)]
    unit = N_PER_LBF if units == "in" else 1.0
    lines += wrapping.wrapped(
        f"One {'lbf' if units == 'in' else 'N'} of spread is {how.rpm_per_newton * unit:.2f} rpm; "
        "the stiffer stack comes in later."
    )
    shared = float((now.shared_n / how.work_n).mean())
    if shared:
        lines += wrapping.wrapped(
            f"All shoes together are known to +- {how.mean_rpm * shared / 2:.0f} rpm beside that."
        )
    lines += wrapping.wrapped(SHARE)
    lines += ["", *_running(now)]
    shoes = shoe_lines(now.linings, job)
    lines += ["", *shoes] if shoes else []
    lines += ["", *torque_lines(now.torque, units)]
    lines += ["", *engine_lines(now.powered, job)]
    lines += ["", *_drifts(now, units)]
    lines += [line for warning in warnings for line in wrapping.wrapped(f"Note: {warning}")]
    lines += ["", *(line for words in CAUTIONS for line in wrapping.wrapped(words))]
    return "\n".join(lines) + "\n"


def _running(now: Engagement) -> list[str]:
    """What moves all shoes together in a running clutch, and what the job lacks to tell it."""
    mean, run = now.hookup.mean_rpm, now.running
    lines = ["RUNNING, not seen on the bench; it moves all shoes together"]
    if run.stack_mass_g is not None:
        said = (
            f"springs' own mass, {run.stack_mass_g.mean():.1f} g a stack, thrown outwards: "
            f"{mean - now.bare_rpm:+.0f} rpm, counted above"
        )
    else:
        said = "springs' own mass: give stack_radius under [clutch], and the stacks by a plan"
    lines += wrapping.wrapped(said, "  ")
    if now.hot_rpm is None:
        said = "hot: give hot_c under [disc]; at 150 C steel is 4 % softer, 2 % in speed"
    else:
        softer = 1 - (run.hot_share or 1.0)
        said = (
            f"hot, at {run.hot_c:.0f} C: {now.hot_rpm:.0f} rpm ({now.hot_rpm - mean:+.0f}), steel "
            f"{softer:.1%} softer".replace("%", " %")
        )
    lines += wrapping.wrapped(said, "  ")
    if now.release_rpm is None:
        said = "release: give friction under [friction], and the stacks by a plan"
    else:
        said = (
            f"release, shoes leaving the drum: {now.release_rpm:.0f} rpm "
            f"({now.release_rpm - mean:+.0f}), friction of the discs working the other way"
        )
    return [*lines, *wrapping.wrapped(said, "  ")]


def _drifts(now: Engagement, units: str) -> list[str]:
    if not now.drifts:
        return wrapping.wrapped(
            "No wear table: give the plan whose stacks these are (--plan), as wear needs to "
            "know how their load rises."
        )
    tolerance = now.tolerance
    scale, unit = (MM_PER_IN, "inches") if units == "in" else (1.0, "mm")
    amounts = now.drifts[0].amount_mm / scale
    digits = 3 if units == "in" else 1
    lines = wrapping.wrapped(
        f"WEAR: change of the mean engagement in rpm / band in rpm, wear in {unit}"
    )
    mean = now.hookup.mean_rpm
    rows = [
        (
            drift.name,
            *(
                "solid" if np.isnan(m) else f"{m - mean:+.0f}/{b:.0f}"
                for m, b in zip(drift.mean_rpm, drift.band_rpm, strict=True)
            ),
            _limit(drift, scale, digits),
        )
        for drift in now.drifts
    ]
    lines += wrapping.table(("", *(f"+{amount:.{digits}f}" for amount in amounts), "leaves"), rows)
    lines += wrapping.wrapped(
        f"Leaves: the wear at which the set leaves tolerance, which is {tolerance.rpm:.0f} +- "
        f"{tolerance.off_rpm:.0f} rpm with a band of {tolerance.band_rpm:.0f} rpm "
        "(the job's tolerances of load, as speeds)."
    )
    lines += wrapping.wrapped(
        "Why: " + "; ".join(f"{drift.name}: {drift.why}" for drift in now.drifts) + "."
    )
    return lines


def _limit(drift: Drift, scale: float, digits: int) -> str:
    if drift.limit_mm is None:
        return "-"
    return "now" if drift.limit_mm == 0 else f"{drift.limit_mm / scale:.{digits + 1}f}"


def retarget_card(found: Retarget, units: str, warnings: tuple[str, ...]) -> str:
    """Write the ways to a new engagement speed."""
    now = found.now.hookup
    lines = wrapping.wrapped(
        f"From {now.mean_rpm:.0f} rpm at {text.load(float(now.work_n.mean()), units)} to "
        f"{found.target_rpm:.0f} rpm ({found.target_rpm - now.mean_rpm:+.0f}), which takes "
        f"{text.load(float(found.target_n.mean()), units)} at the travel (speed goes with the "
        "square root of load)."
    )
    height = found.today_mm
    for number, one in enumerate(found.ways, 1):
        lines += ["", *_way(number, one, found, units, height)]
    if not found.reached:
        lines += ["", *wrapping.wrapped("Nothing on hand reaches it within "
                                 f"{REACHED_RPM:.0f} rpm:")]  # fmt: skip
        lines += [line for reason in found.reasons for line in wrapping.wrapped(f"- {reason}")]
        if found.nearest is not None:
            lines += ["", *wrapping.wrapped("The nearest that can be built:")]
            lines += _way(0, found.nearest, found, units, height)
    if found.stopped:
        lines += ["", "Stopped at the time limit or by hand: there may be more ways."]
    if found.buy:
        lines += ["", "TO BUY"]
        lines += [line for what in found.buy for line in wrapping.wrapped(f"- {what}")]
    lines += ["", *wrapping.wrapped(SHARE)]
    lines += [line for warning in warnings for line in wrapping.wrapped(f"Note: {warning}")]
    lines += ["", *(line for words in CAUTIONS for line in wrapping.wrapped(words))]
    return "\n".join(lines) + "\n"


def _way(number: int, one: Way, found: Retarget, units: str, today_mm: float | None) -> list[str]:
    miss = one.misses_rpm(found.target_rpm)
    off = f"{miss:+.0f} off" if abs(miss) >= 0.5 else "on target"
    head = f"{number}. " if number else ""
    lines = wrapping.wrapped(f"{head}{one.what[0].upper()}{one.what[1:]}: {one.stacks[0].pattern}")
    if one.loose:
        words = "LOOSE at rest: it rattles and frets in its place until the shoe moves"
        lines += wrapping.wrapped(words, "   ", "     ")
    how = one.hookup
    wide = " BEYOND the tolerance" if how.band_rpm > found.band_limit_rpm else ""
    grows = (
        f"height {text.length(one.height_mm, units)}"
        if today_mm is None
        else f"height {(one.height_mm - today_mm) / (MM_PER_IN if units == 'in' else 1):+.3f} "
        f"{units} ({text.length(one.height_mm, units)} in all)"
    )
    for words in (
        f"{how.mean_rpm:.0f} rpm ({off}), band {how.band_rpm:.1f} rpm{wide} "
        f"(90 % below {how.band_ninety_rpm:.0f})",
        f"pressed to {one.share:.2f} h, tension {text.stress(one.tension_mpa, units)}, "
        f"centre {text.stress(one.om_mpa, units)}",
        grows + ("" if one.moved is None else f", {one.moved} discs moved"),
    ):
        lines += wrapping.wrapped(words, "   ", "     ")
    for stack in one.stacks:
        lines += _stack(stack, units)
    return lines


def _stack(stack: PlanStack, units: str) -> list[str]:
    packets = " ".join(text.packet(packet) for packet in stack.packets)
    shims = ", ".join(text.length(mm, units) for mm in stack.shims_mm)
    words = f"shoe {stack.shoe}: {packets}" + (f", shims {shims}" if shims else "")
    return wrapping.wrapped(words, "   ", "     ")
