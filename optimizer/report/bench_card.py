"""What the bench step says in words, of at most 80 columns: the decision, then why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer import text
from optimizer.bench.chosen import offered
from optimizer.bench.questions import Question
from optimizer.bench.step import Step
from optimizer.estimate.consistency import OFF
from optimizer.estimate.learn import deflection_shift
from optimizer.estimate.words import KIND_WORDS, load_words, whose_words
from optimizer.match.workspace import Workspace
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job, Units
from optimizer.model.stack import Stack, stack_words
from optimizer.report.advice import (
    brief,
    count,
    decision,
    last_spread,
    marks,
    reason,
    remarks,
    shoes_words,
)
from optimizer.report.next_job import LEAST_FACTOR, next_job_words
from optimizer.report.plan_card import legend, set_drawn, stopped_early
from optimizer.wrapping import hung

#: discs listed as those that moved most
MOST_DISCS = 5
#: said above the moves that may be made instead
OR_BY_HAND = "Or, by the word move at the prompt or by --move (positions count from the bottom)"
#: least shift worth a line, in sds before the readings
LEAST_SHIFT = 0.25


def bench_text(step: Step, work: Workspace) -> str:
    """Say what to do next and draw it; `work` is the job as readings taught it."""
    job = work.job
    lines = [decided_words(step)]
    lines += [
        reason(step, text.load(job.target.spread_tolerance_n, job.units)),
        *remarks(step, job),
    ]
    if step.advice.kind == "stop" and step.advice.chance_on_target < 0.5:
        lines.append("If the level matters run match again, which goes by the readings.")
    lines += _insisted(step, job)
    if not step.learned.evidence.count:
        lines.append(
            "No settled reading counts yet: this is predicted from the measurements alone."
        )
    lines += stopped_early(step.next)
    if apart := last_spread(step, job):
        lines.append(apart)
    said = hung(line for line in lines if line)
    if step.advice.kind not in ("stop", "leave"):
        drawn = set_drawn(step.next.sets[0], work, marks(step))
        said += "\n".join(["", *drawn, "", *legend(work, marks(step))]) + "\n"
    others = _others(step)
    return said + (hung(["", *others]) if others else "")


def decided_words(step: Step) -> str:
    """Say the decision in a line that begins with its word."""
    word, how = decision(step)
    return f"{word}{'' if word in ('SWAP', 'READ') else ':'} {how}"


def bench_why(step: Step, work: Workspace) -> str:
    """Say what the decision rests on: what stands, and what was learned."""
    job = work.job
    lines = [*_standing(step, job), "", *_learned(step, job), *_verdict(step, work)]
    return hung(lines)


def _insisted(step: Step, job: Job) -> list[str]:
    return [
        f"{whose_words(r)}: {load_words(r.load_n, job.units)}, insisted on, fits nothing else that "
        "was read or measured, so it moves nothing until a reading again bears it out: look for "
        "a wrong disc, dirt on the seat or a stop that moved."
        for r in step.learned.evidence.not_borne_out
    ]


def _others(step: Step) -> list[str]:
    """List the moves that may be made instead, by the number that takes them."""
    if step.advice.kind == "reread" and (step.verdict.contradiction or step.unread):
        return []  # the gauge comes first
    lines = []
    for number, move in enumerate(offered(step.advice), 1):
        if move is step.advice.advised:
            continue
        words = "; ".join(brief(e, move.stacks) for e in move.exchanges)
        aimed = f", {text.percent(move.on_target)} on target" if move.on_target < 0.9 else ""
        lines.append(
            f"  move {number}: {words or 'build all stacks anew'} ({count(move)} moved): then "
            f"{text.percent(move.chance)} likely{aimed}, {move.in_all:.0f} minutes in all"
        )
    return [f"{OR_BY_HAND}:", *lines] if lines else []


def _learned(step: Step, job: Job) -> list[str]:
    learned = step.learned
    e = learned.evidence
    before = sum(r.round < 1 for r, told in zip(e.readings, e.heard, strict=True) if told)
    if not e.count:
        return ["No settled reading yet: what follows is predicted from the measurements alone."]
    lines = [
        f"Learned from {e.count} settled readings"
        f"{f', {before} of them of earlier sessions' if before else ''}:",
        f"  load factor {learned.load_factor:.4f} +- {learned.load_factor_sd:.4f} "
        f"(the job has {job.model.load_factor:g})",
    ]
    shift, sd = shifts_um(step)
    was = _prior_sd_um(step)
    order = [int(d) for d in np.argsort(-np.abs(shift))[:MOST_DISCS]]
    names = learned.rig.belief.names
    told = [
        f"{names[d]} {_small(shift[d], job.units):+.1f} +- {_small(sd[d], job.units):.1f}"
        for d in order
        if abs(shift[d]) > LEAST_SHIFT * was[d]
    ]
    if told:
        unit = "0.0001 in" if job.units == "in" else "um"
        lines.append(
            f"  discs that moved most, in {unit} of deflection at work (+ is softer): "
            f"{', '.join(told)}"
        )
    return lines


def _small(um: float, units: Units) -> float:
    """A small length in um or, for inch users, in ten-thousandths of an inch."""
    return um / 2.54 if units == "in" else um


def shifts_um(step: Step) -> tuple[Array, Array]:
    """Shift of every disc (n) in um of deflection at the working load, and its sd now."""
    shift, sd = deflection_shift(step.learned, float(step.task.target_n.mean()))
    return 1000 * shift, 1000 * sd


def _prior_sd_um(step: Step) -> Array:
    learned = step.learned
    before = replace(learned, covariance=learned.evidence.prior)
    return 1000 * deflection_shift(before, float(step.task.target_n.mean()))[1]


def _verdict(step: Step, work: Workspace) -> list[str]:
    job, v, lines = work.job, step.verdict, []
    if v.repeatability_n is not None:
        lines.append(f"  gauge repeatability seen {text.load(v.repeatability_n, job.units, 2)}")
    if v.seating_drop:
        drops = ", ".join(f"shoe {shoe} {drop:.1%}" for shoe, drop in v.seating_drop.items())
        lines.append(f"  seating drop from first push to settled: {drops}")
    if np.abs(np.log(step.learned.factors)).max() > np.log(LEAST_FACTOR):
        each = zip(KIND_WORDS.values(), step.learned.factors, strict=True)
        said = ", ".join(f"{words} {factor:.1f}" for words, factor in each)
        lines.append(f"  sds taken, times those of the job: {said}")
    if v.scatter_told and v.scatter_factor is not None:
        lines.append(
            f"Edges scatter about {v.scatter_factor:.1f} times what the job assumes "
            f"(off by {OFF:g} or more)."
        )
    if carried := next_job_words(work, step.learned):
        lines.append(carried)
    return lines


def _standing(step: Step, job: Job) -> list[str]:
    u = job.units
    now = step.advice.loads
    sd = np.sqrt(np.diag(now.covariance_n2))
    lines = ["What stands, true loads at the travel as believed now:"]
    for s, load in enumerate(now.mean_n):
        unread = " (not read)" if s + 1 in step.unread else ""
        lines.append(
            f"  shoe {s + 1}: {text.load(load, u)} +- {text.load(sd[s], u)} "
            f"(target {text.load(step.task.target_n[s], u)}){unread}"
        )
    width = text.load(job.target.spread_tolerance_n, u)
    kind = "after readings" if step.learned.evidence.count else "before any reading"
    lines.append(f"  {text.percent(step.advice.chance_now)} likely truly within {width} ({kind})")
    lines.append(
        f"  {text.percent(step.advice.chance_on_target)} likely that the mean is within "
        f"{text.load(job.target.load_tolerance_n, u)} of the target"
    )
    lines.append(
        f"  {text.percent(step.chance_if_apart)} likely once all are taken apart and built again "
        "with the same discs"
    )
    return lines


def asked_words(question: Question, units: Units) -> str:
    """Say which stack is to be read: its discs where no card has shown them."""
    if question.shoe is None:
        at = text.length(question.travel_mm or 0.0, units)
        said = f"Discs by themselves, travel {at}: {stack_words(question.packs)}"
    else:
        shims = question.shims_mm
        on = "" if shims is None else f", on {text.length(shims, units)} of shims"
        told = " (built again since)" if question.rebuilt else ""
        said = f"Shoe {question.shoe}, round {question.round}{on}{told}:"
    return hung([said]).rstrip()


def left_words(shoes: Sequence[int]) -> str:
    """Say which stacks a move left alone, and how one of them is read all the same."""
    stand = "stands as it was and is" if len(shoes) == 1 else "stand as they were and are"
    who = shoes_words(shoes).capitalize()
    return hung([f"{who} {stand} not asked for; type read {shoes[0]} to read it again."]).rstrip()


def groups_text(groups: tuple[Stack, ...], travel_mm: float, chance: float, units: Units) -> str:
    """Say which groups to gauge, how far to press them, and what that promises."""
    lines = [
        f"Gauge these {len(groups)} groups by themselves, in series, zeroed at the seating load, "
        f"each at a travel of {text.length(travel_mm, units)}, and keep each together from then "
        "on (a dab of grease or a clip):",
        *(f"  {stack_words(group)}" for group in groups),
        f"Stacks built of them are {text.percent(chance)} likely truly within the tolerance, "
        "provided that a group is never taken apart.",
    ]
    return hung(lines)
