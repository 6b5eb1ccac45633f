"""The plan as a readable text card of at most 80 columns: what to do, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from shlex import quote

from optimizer import text, wrapping
from optimizer.control import CLOCK, INTERRUPTED
from optimizer.estimate.problem import Task
from optimizer.match.workspace import Workspace
from optimizer.model.job import Job
from optimizer.model.plan import BEFORE, Plan, PlanSet, PlanStack
from optimizer.report.characters import stacks_drawn
from optimizer.report.facts import one_target, own_words, set_facts
from optimizer.report.figures import Figures
from optimizer.report.shoe import Check, Highlights, checks
from optimizer.report.trade import trade_words

CAUTIONS = (
    "Cautions: a compressed stack stores energy: press and release it in a guided fixture, wear "
    "eye protection, keep dust of linings and ground steel out of your lungs, never run a clutch "
    "uncovered. The limits of the clutch and engine maker and the race rules go before anything "
    "said here."
)
LEGEND = (
    "As they stand, start at the bottom: /\\ lies on its outer rim, \\/ is turned over, + lies "
    "nested on the disc below."
)
#: sets drawn in characters; the statistics list all
DRAWN = 12
#: discs left in the bag that are named
NAMED = 60


def card(plan: Plan, work: Workspace) -> str:
    """Write the card: what to put where, what caliper and gauge should say, what to mind."""
    lines = [*_decision(plan, work.task), *_reason(plan), *stopped_early(plan), ""]
    if words := trade_words(plan):
        lines += [*wrapping.wrapped(words, ""), ""]
    for number, one in enumerate(plan.sets[:DRAWN], 1):
        if len(plan.sets) > 1:
            lines += [_named(number, one), ""]
        lines += [*set_drawn(one, work), ""]
    if len(plan.sets) > DRAWN:
        lines += [
            f"... and {len(plan.sets) - DRAWN} more sets, listed by --why and on the sheet.",
            "",
        ]
    lines += [*legend(work), ""]
    lines += _left(plan)
    lines += wrapping.paragraphs(f"Note: {warning}" for warning in plan.warnings)
    lines += ["", *wrapping.wrapped(CAUTIONS)]
    return "\n".join(lines) + "\n"


def statistics(plan: Plan, job: Job) -> str:
    """Write what the plan rests on: loads, doubts and chances of every set."""
    lines = ["WHY", ""]
    for number, one in enumerate(plan.sets, 1):
        if len(plan.sets) > 1:
            lines += [_named(number, one), ""]
        lines += _set(one, plan, job)
    if len(plan.unused) > NAMED:
        lines += ["Left in the bag:", *wrapping.wrapped(" ".join(plan.unused), "  "), ""]
    return "\n".join(lines)


def _named(number: int, one: PlanSet) -> str:
    return f"SET {number}, KEPT WITH {one.keep_with}" if one.keep_with else f"SET {number}"


def _decision(plan: Plan, task: Task) -> list[str]:
    """Say what to do first, and what the gauge should say then."""
    count = len(plan.sets[0].stacks)
    what = f"{text.number(count)} stacks"
    if len(plan.sets) > 1:
        what = f"{len(plan.sets)} sets of {what}"
    loads = [stack.working_load_n for stack in plan.sets[0].stacks]
    said = text.load(sum(loads) / count, plan.units, 0)
    if not one_target(task):
        said = " / ".join(text.load(load, plan.units, 0) for load in loads) + " (shoe by shoe)"
    return wrapping.wrapped(
        f"BUILD {what} from the bottom up, then read each on the gauge: about "
        f"{said}, and {text.every(count)} within "
        f"{text.load(plan.spread_tolerance_n, plan.units)} of each other{own_words(task)}.",
        hang="  ",
    )


def _reason(plan: Plan) -> list[str]:
    """Say in a line how likely that is, and what would help most."""
    chances = [
        s.chance_within_tolerance for s in plan.sets if s.chance_within_tolerance is not None
    ]
    if not chances:
        return []
    low, high = text.percent(min(chances)), text.percent(max(chances))
    each = "Each " if len(chances) > 1 else ""
    chance = low if low == high else f"{low} to {high}"
    said = f"{each}{chance} likely truly within that, {plan.sets[0].chance_known}"
    helps = plan.sets[0].helps if len(plan.sets) == 1 else ()
    if helps:
        then, action = (
            text.percent(helps[0]["chance_then"]),
            helps[0]["action"].replace("these ", ""),
        )
        said += f"; {then}, if you {action}"
    return wrapping.wrapped(f"{said}.", "")


def set_drawn(one: PlanSet, work: Workspace, marks: Highlights | None = None) -> list[str]:
    """Draw the stacks of a set, below each what caliper and gauge should say.

    `marks` says what is to be placed now and what is suspect; all is placed where None.
    """
    found = checks(one, set_facts(one, work), work)
    figures = Figures(work.job.units)
    opened = None if marks is None else marks.opened
    every = {(s.shoe, disc) for s in one.stacks for packet in s.packets for disc in packet}

    def marked(shoe: int, disc: str) -> str:
        comes = opened is not None and opened != every and (shoe, disc) in opened
        suspect = marks is not None and disc in marks.suspects
        return f"{' <' if comes else ''}{' !' if suspect else ''}"

    return stacks_drawn(one.stacks, work.job.units, marked, [_foot(c, figures) for c in found])


def _foot(check: Check, figures: Figures) -> list[str]:
    low, high = (figures.caliper(mm) for mm in check.height_mm)
    least, most = (figures.load(newtons, 0) for newtons in check.likely_n)
    return [f"free {low}-{high}", f"read {least}-{most}"]


def legend(work: Workspace, marks: Highlights | None = None) -> list[str]:
    """Say how the drawing is read."""
    figures = Figures(work.job.units)
    inches = "inches" if work.job.units == "in" else "mm"
    said = (
        f"{LEGEND} free: height in {inches} of the discs alone by caliper; read: "
        f"settled load in {figures.load_unit} on the gauge, nineteen of twenty."
    )
    if marks is not None and marks.opened is not None:
        said += (
            " < comes in now, all else stays as it stands."
            if marks.opened
            else " All stays as it stands."
        )
    if marks is not None and marks.suspects:
        said += " ! is suspect: look at it first."
    return wrapping.wrapped(said, "")


def next_steps(plan: Plan, job: Job, job_file: Path, plan_file: Path | None) -> str:
    """Say what to do with the hands next, and the command that takes the readings."""
    kept = plan_file or Path("FOLDER", "plan.json")
    which = " --set 1" if len(plan.sets) > 1 else ""
    lines = [
        "",
        *wrapping.wrapped(
            "NEXT: build each stack from the bottom as listed, check its free height, "
            f"{_to_the_gauge(job)} Push a few times until the reading settles, then read "
            "each stack. Type the readings into:",
            "",
        ),
        f"  evenstack bench {quote(str(job_file))} --plan {quote(str(kept))}{which}",
    ]
    if plan_file is None:
        lines += ["(first run match again with --out FOLDER, which keeps this plan)"]
    return "\n".join(lines) + "\n"


def _to_the_gauge(job: Job) -> str:
    u = job.units
    if job.pressed_mm is not None:
        return f"and press stack and shims together to {_each(job.pressed_mm, u)}."
    seating = text.load(job.datum.seating_load_n or 0.0, u)
    travel = _each([shoe.travel_mm for shoe in job.shoes], u)
    return f"press it to {seating}, zero the travel there, and press on by {travel}."


def _each(mm: Sequence[float], units: str) -> str:
    """Say a length once, or shoe by shoe where they differ."""
    said = [text.length(value, units) for value in mm]
    if len(set(said)) == 1:
        return said[0]
    return ", ".join(f"{value} (shoe {shoe})" for shoe, value in enumerate(said, 1))


def _set(one: PlanSet, plan: Plan, job: Job) -> list[str]:
    u = plan.units
    lines = []
    for stack in one.stacks:
        lines += _stack(stack, u, job)
    # proven down to the resolution only: below it two spreads count as equal
    resolution = text.load(job.target.resolution_n, u, 2)
    proof = (
        f"spreads below {resolution} count as equal: none is better"
        if one.proven
        else "not proven least"
    )
    lines += wrapping.wrapped(
        f"Predicted spread at the travel {text.load(one.spread_n, u, 2)} ({proof}), "
        f"worn {text.load(one.worn_spread_n, u, 2)}.",
        "",
    )
    if one.variance_gap is not None:
        near = "" if one.variance_gap < 0.0005 else f"within {one.variance_gap:.1%} of "
        lines += [f"Doubt of the loads: {near}the least possible."]
    return [*lines, *_chances(one, plan, job), ""]


def _chances(one: PlanSet, plan: Plan, job: Job) -> list[str]:
    """Say the chances, what they rest on, where the doubt comes from and what would help."""
    if one.chance_within_tolerance is None or one.chance_on_target is None:
        return []
    u = plan.units
    basis = ", resting on assumed scatter" if one.chance_known == BEFORE else ""
    lines = wrapping.wrapped(
        f"{text.percent(one.chance_within_tolerance)} likely truly within "
        f"{text.load(plan.spread_tolerance_n, u)} of each other, "
        f"{text.percent(one.chance_on_target)} that their mean is within "
        f"{text.load(plan.load_tolerance_n, u)} of the target ({one.chance_known}{basis}).",
        "",
    )
    if one.chance_on_gauge is not None:
        lines += wrapping.wrapped(
            f"On a gauge beside the clutch {text.percent(one.chance_on_gauge)}: it does not see "
            f"shoes, {shoes_known(job)}.",
            "",
        )
    if one.chance_known == BEFORE and one.common_sd:
        lines += wrapping.wrapped(
            f"Read one stack before you move any: until then the level of all loads is known to "
            f"{one.common_sd:.1%} only, which says nothing of how alike they are."
        )
    parts = ", ".join(f"{d['source']} {text.percent(d['share'])}" for d in one.doubt)
    lines += wrapping.wrapped(f"Where the doubt between shoes comes from: {parts}.", "")
    for help in one.helps:
        then = f"{text.percent(help['chance_now'])} -> {text.percent(help['chance_then'])}"
        lines += wrapping.wrapped(f"Would help: {help['action']}: {then}", "")
        lines += wrapping.wrapped(" ".join(help["discs"]), "    ")
    return lines


def shoes_known(job: Job) -> str:
    """Say how well the job knows travel and seat of its shoes, the worst of them."""
    said = f"travels known to {text.length(max(s.travel_sd_mm for s in job.shoes), job.units)}"
    seat = max(shoe.seat_sd_mm for shoe in job.shoes)
    if job.datum.installed_length_mm is None or not seat:
        return said
    return f"{said} and seats to {text.length(seat, job.units)}"


def _stack(stack: PlanStack, u: str, job: Job) -> list[str]:
    packets = " ".join(text.packet(p) for p in stack.packets)
    lines = wrapping.wrapped(
        f"SHOE {stack.shoe}: {stack.pattern}, from the bottom, facing alternately", hang="  "
    )
    lines += wrapping.wrapped(packets, "  ")
    if stack.shims_mm:
        lines += ["  shims: " + ", ".join(text.length(s, u) for s in stack.shims_mm)]
    lines += wrapping.wrapped(
        f"free height {text.length(stack.free_height_mm, u)}, at the travel "
        f"{text.load(stack.working_load_n, u)} +- {text.load(stack.working_load_sd_n, u)} "
        f"(target {text.load(stack.target_load_n, u)})",
        "  ",
    )
    lines += wrapping.wrapped(
        f"at rest {text.load(stack.rest_load_n, u)}, worn {text.load(stack.worn_load_n, u)}, "
        f"rate {text.rate(stack.rate_n_per_mm, u)}, pressed to {stack.max_deflection_share:.2f} h",
        "  ",
    )
    return [*lines, ""]


def stopped_early(plan: Plan) -> list[str]:
    """Say that something ended the search early."""
    if plan.stopped is None:
        return []
    by = {CLOCK: "STOPPED BY THE CLOCK", INTERRUPTED: "INTERRUPTED"}[plan.stopped]
    return [f"{by}: this is the best so far, not the best there is.", ""]


def _left(plan: Plan) -> list[str]:
    if not plan.unused:
        return ["Every disc of the bag is used."]
    if len(plan.unused) > NAMED:
        return [f"Left in the bag: {len(plan.unused)} discs."]
    return ["Left in the bag:", *wrapping.wrapped(" ".join(plan.unused), "  ")]
