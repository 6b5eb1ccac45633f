"""Engagement and ways to another hookup as readable text of at most 80 columns."""

from __future__ import annotations

import numpy as np

from optimizer import text, wrapping
from optimizer.clutch.drift import Drift
from optimizer.hookup.buy import SoldOption
from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import REACHED_RPM, HookupWay
from optimizer.model.job import Job
from optimizer.model.plan import PlanStack
from optimizer.report.hookup_engine import engine_lines, shoe_lines, torque_lines
from optimizer.report.hookup_life import life_lines
from optimizer.units import MM_PER_IN, TO_INSIDE

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
    shared = float((now.shared_n / how.work_n).mean())
    doubt = f", all shoes together known to +- {how.mean_rpm * shared / 2:.0f}" if shared else ""
    lines = wrapping.wrapped(f"ENGAGEMENT at {how.mean_rpm:.0f} rpm{doubt}")
    lines += [*wrapping.wrapped_path(f"of {now.source}"), ""]
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
    unit = TO_INSIDE[text.load_unit(units).lower()]
    lines += wrapping.wrapped(
        f"One {text.load_unit(units)} of spread is {how.rpm_per_newton * unit:.2f} rpm; "
        "the stiffer stack comes in later."
    )
    lines += wrapping.wrapped(SHARE)
    lines += ["", *_running(now)]
    shoes = shoe_lines(now.linings, job)
    lines += ["", *shoes] if shoes else []
    lines += ["", *torque_lines(now.torque, units)]
    lines += ["", *engine_lines(now.powered, job)]
    lines += ["", *_drifts(now, units)]
    lines += ["", *life_lines(now, units)] if now.lasting is not None else []
    lines += wrapping.paragraphs(f"Note: {warning}" for warning in warnings)
    lines += ["", *wrapping.paragraphs(CAUTIONS)]
    return "\n".join(lines) + "\n"


def _running(now: Engagement) -> list[str]:
    """What moves all shoes together in a running clutch, and what the job lacks to tell it."""
    mean, run = now.hookup.mean_rpm, now.running
    lines = ["RUNNING, not seen on the bench; it moves all shoes together"]
    stacks = "" if now.drifts else ", and the stacks by a plan"
    if run.stack_mass_g is not None:
        said = (
            f"springs' own mass, {run.stack_mass_g.mean():.1f} g a stack, thrown outwards: "
            f"{mean - now.bare_rpm:+.0f} rpm, counted above"
        )
    else:
        said = f"springs' own mass: give stack_radius under [clutch]{stacks}"
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
        said = f"release: give between and edge under [friction]{stacks}"
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
    shared = now.mean_rpm * found.now.shared / 2
    doubt = f" (all together +- {shared:.0f})" if shared else ""
    lines = wrapping.wrapped(
        f"From {now.mean_rpm:.0f} rpm{doubt} at {text.load(float(now.work_n.mean()), units)} to "
        f"{found.target_rpm:.0f} rpm ({found.target_rpm - now.mean_rpm:+.0f}), which takes "
        f"{text.load(float(found.target_n.mean()), units)} at the travel (speed goes with the "
        "square root of load)."
    )
    numbers = {id(one): number for number, one in enumerate(found.numbered, 1)}
    for one in found.ways:
        lines += ["", *_way(numbers[id(one)], one, found, units)]
    if not found.reached:
        lines += ["", *wrapping.wrapped("Nothing on hand reaches it within "
                                 f"{REACHED_RPM:.0f} rpm:")]  # fmt: skip
        lines += wrapping.paragraphs(f"- {reason}" for reason in found.reasons)
        if found.nearest is not None:
            lines += ["", *wrapping.wrapped("The nearest that can be built:")]
            lines += _way(numbers[id(found.nearest)], found.nearest, found, units)
    if found.stopped:
        lines += ["", "Stopped at the time limit or by hand: there may be more ways."]
    if found.workshop:
        lines += ["", "IN THE WORKSHOP, today's stacks as they are"]
        for one in found.workshop:
            lines += _way(numbers[id(one)], one, found, units)
    if found.buy or found.sold:
        lines += ["", "TO BUY"]
        lines += wrapping.paragraphs(_sold(one, found, units) for one in found.sold)
        lines += wrapping.paragraphs(f"- {what}" for what in found.buy)
    if found.ranges:
        lines += ["", "HOW FAR EACH LEADS"]
        rows = [
            (each.what, f"{'about ' if each.about else ''}{each.low_rpm:.0f}",
             f"{each.high_rpm:.0f} rpm")
            for each in found.ranges
        ]  # fmt: skip
        lines += wrapping.table(("", "from", "to"), rows)
        gaps = [] if found.reached else [one.gap_rpm for one in found.ranges if one.gap_rpm]
        lines += wrapping.paragraphs(
            f"Patterns go in steps: of average discs none lies between about {low:.0f} and "
            f"{high:.0f} rpm."
            for low, high in gaps
        )
    lines += ["", *wrapping.wrapped(SHARE)]
    lines += wrapping.paragraphs(f"Note: {warning}" for warning in warnings)
    lines += ["", *wrapping.paragraphs(CAUTIONS)]
    return "\n".join(lines) + "\n"


def _sold(one: SoldOption, found: Retarget, units: str) -> str:
    """Say one size that is sold, with every number of discs plain."""
    miss = one.rpm - found.target_rpm
    needs = f"{one.discs} discs: you have {one.have}"
    if one.packs:
        cost = "" if one.cost is None else f", {one.cost:.2f} {one.currency}".rstrip()
        needs += f", buy {one.packs * one.pack} ({one.packs} x {one.pack}{cost})"
    shims = f", {text.length(one.shim_mm, units)} of shims under each" if one.shim_mm else ""
    return (
        f"- {one.size}, {one.pattern} in every stack{shims}: about {one.rpm:.0f} rpm "
        f"({miss:+.0f} off) by nominal discs, pressed to {one.share:.2f} h"
        f"{', but LOOSE at rest: it would rattle' if one.loose else ''}. {needs}; "
        "`order` says how many more it takes to match them."
    )


def _way(number: int, one: HookupWay, found: Retarget, units: str) -> list[str]:
    miss = one.misses_rpm(found.target_rpm)
    off = f"{miss:+.0f} off" if abs(miss) >= 0.5 else "on target"
    lines = wrapping.wrapped(
        f"{number}. {one.what[0].upper()}{one.what[1:]}: {one.stacks[0].pattern}"
    )
    if one.loose:
        words = "LOOSE at rest: it rattles and frets in its place until the shoe moves"
        lines += wrapping.wrapped(words, "   ", "     ")
    how = one.hookup
    wide = " BEYOND the tolerance" if how.band_rpm > found.band_limit_rpm else ""
    grows = f"stack and shims {text.length(one.height_mm, units)} high"
    if found.today_mm is not None:
        grows += f", {_than_today(one.height_mm - found.today_mm, units)}"
    holds = "" if one.holds_rpm is None else f", holds full throttle from {one.holds_rpm:.0f} rpm"
    for words in (
        f"touches at {how.mean_rpm:.0f} rpm ({off}){holds}, band {how.band_rpm:.1f} rpm{wide} "
        f"(90 % below {how.band_ninety_rpm:.0f})",
        *_change(one, units),
        f"pressed to {one.share:.2f} h, tension {text.stress(one.tension_mpa, units)}, "
        f"centre {text.stress(one.om_mpa, units)}",
        grows + ("" if one.moved is None else f", {one.moved} discs moved"),
        *_work(one),
    ):
        lines += wrapping.wrapped(words, "   ", "     ")
    if one.kind not in ("spacer", "mass"):
        for stack in one.stacks:
            lines += _stack(stack, units, "no shims" if one.kind == "shims" else "")
    return lines


def _than_today(grows_mm: float, units: str) -> str:
    """Say how much higher than today's a stack gets."""
    size = text.length(abs(grows_mm), units)
    if size == text.length(0.0, units):
        return "as today"
    return f"{size} {'higher' if grows_mm > 0 else 'lower'} than today"


def _change(one: HookupWay, units: str) -> list[str]:
    """What is made for a way that leaves the stacks as they are."""
    if one.spacer_mm is not None:
        size = text.length(abs(one.spacer_mm), units)
        if one.spacer_mm > 0:
            return [f"{size} thick, the same under every stack"]
        return [f"{size} deeper, all alike; or a spacer that much thinner if there is one"]
    if one.mass_change_g is not None:
        each = [f"{grams:+.1f} g" for grams in one.mass_change_g]
        what = f"every shoe {each[0]}" if len(set(each)) == 1 else f"shoe by shoe {', '.join(each)}"
        return [
            f"{what}, at the centre of gravity (further out it counts for more); "
            "weigh them, and never drill or grind where a shoe is thin"
        ]
    return []


def _work(one: HookupWay) -> list[str]:
    said = []
    if one.chance is not None:
        said.append(f"{text.percent(one.chance)} likely within the spread tolerance")
    if one.minutes is not None:
        said.append(f"about {one.minutes:.0f} minutes with reading the stacks")
    return [", ".join(said)] if said else []


def _stack(stack: PlanStack, units: str, none: str) -> list[str]:
    packets = " ".join(text.packet(packet) for packet in stack.packets)
    shims = ", ".join(text.length(mm, units) for mm in stack.shims_mm)
    under = f"shims {shims}" if shims else none
    words = f"shoe {stack.shoe}: {packets}" + (f", {under}" if under else "")
    return wrapping.wrapped(words, "   ", "     ")
