"""From a matched assignment to the plan that a user reads, and how many sets lie within what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import numpy as np

from optimizer import __version__, text
from optimizer.estimate.breakdown import shares, what_helps
from optimizer.estimate.loads import LoadUncertainty, chance, load_uncertainty
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import Task
from optimizer.match.extremes import extremes_note, loose_note
from optimizer.match.lot_stacks import WIDER
from optimizer.match.result import Assigned, Matched, discs_of
from optimizer.mechanics.disc import Array
from optimizer.mechanics.stack import free_height, rate
from optimizer.mechanics.state import greatest_share
from optimizer.model.job import Job
from optimizer.model.plan import AFTER, BEFORE, SCHEMA, Plan, PlanSet, PlanStack, Within

#: with more sets than this, what helps is not asked set by set
MOST_HELPED = 12
#: groups left in the bag that are named one by one
MOST_NAMED = 4


def plan(
    job: Job,
    task: Task,
    sets: tuple[Matched, ...],
    warnings: tuple[str, ...],
    seed: int,
    solve_seconds: float | None,
    factor_sd: float | None = None,
    stopped: str | None = None,
    beyond_n: tuple[float, ...] = (),
) -> Plan:
    """Write the plan of the matched sets.

    `beyond_n` are the spreads of sets of a lot that do not match and are left out. `factor_sd` is
    the relative uncertainty of the load factor once readings taught it; None before any reading,
    when that of a lot's modulus is assumed.
    """
    used = discs_of(sets)
    doubts = [load_uncertainty(task, m.answer.stacks, m.answer.work_n) for m in sets]
    planned = tuple(
        plan_set(job, task, m, uncertainty, factor_sd, len(sets) <= MOST_HELPED)
        for m, uncertainty in zip(sets, doubts, strict=True)
    )
    notes = tuple(note for m in sets for note in m.notes)
    unused = tuple(n for i, n in enumerate(task.belief.names) if i not in used)
    return Plan(
        schema=SCHEMA,
        version=__version__,
        units=job.units,
        target_load_n=float(task.target_n.mean()),
        load_tolerance_n=task.load_tolerance_n,
        spread_tolerance_n=job.target.spread_tolerance_n,
        sets=planned,
        unused=unused,
        warnings=warnings
        + notes
        + left(job, unused)
        + loose_note(_gaps(task, planned), job.units)
        + tuple(extremes_note(task, (m.answer for m in sets)))
        + (_shift_note(task, doubts) if factor_sd is None else ()),
        seed=seed,
        solve_seconds=solve_seconds,
        stopped=stopped,
        within=()
        if len(sets) == 1
        else sets_within(
            task,
            sets,
            doubts,
            beyond_n,
            job.target.spread_tolerance_n,
            task.level_sd if factor_sd is None else factor_sd,
        ),
    )


def left(job: Job, unused: tuple[str, ...]) -> tuple[str, ...]:
    """Say which discs that are to be kept together are in no stack."""
    there = set(unused)
    left = [group for group in job.stack.together if there.issuperset(group)]
    if len(left) > MOST_NAMED:
        first = ", ".join("+".join(group) for group in left[:MOST_NAMED])
        return (
            f"of the groups kept together {len(left)} were left in the bag, {first} and others: "
            "`together` does not ask for them, and they fit no stack of this pattern or were not "
            "wanted; to have one in a stack name its discs under `use` as well.",
        )
    return tuple(
        f"the discs kept together, {', '.join(group)}, were left in the bag: `together` does not "
        "ask for them; to have them in a stack name them under `use` as well."
        for group in left
    )


def _shift_note(task: Task, doubts: Sequence[LoadUncertainty]) -> tuple[str, ...]:
    """Say how far loads to expect lie from those of the believed discs, where it can be told.

    Cones nested in each other may or may not touch at a seating load, which is no straight line.
    """
    shifts = [uncertainty.shift_n for uncertainty in doubts[:MOST_HELPED]]
    apart = max((float(np.ptp(s)) for s in shifts), default=0.0)
    if apart <= task.resolution_n:
        return ()
    units = task.units
    low, high = (float(end) for end in np.sort(np.abs([np.min(shifts), np.max(shifts)])))
    return (
        f"nested cones may or may not touch at the seating load: the gauge will show "
        f"{text.load(low, units)} to {text.load(high, units)} less than these loads on average, "
        f"and up to {text.load(apart, units)} more between shoes. The chance counts it.",
    )


def _gaps(task: Task, sets: tuple[PlanSet, ...]) -> dict[str, float]:
    """Room in mm that stacks leave at rest, by shoe; nothing where a seating load zeroes it."""
    if not task.datum.has_room:
        return {}
    room = task.datum.lengths_mm(task.shoes)
    return {
        (f"set {number} " if len(sets) > 1 else "") + f"shoe {stack.shoe}": float(room[i])
        - stack.free_height_mm
        - sum(stack.shims_mm)
        for number, one in enumerate(sets, 1)
        for i, stack in enumerate(one.stacks)
    }


def plan_set(
    job: Job,
    task: Task,
    matched: Matched,
    uncertainty: LoadUncertainty,
    factor_sd: float | None,
    ask_help: bool,
) -> PlanSet:
    """Write one set of stacks with its loads, chances, uncertainty and proofs."""
    answer = matched.answer
    weight = task.weight
    load, tolerance = answer.work_n, job.target.spread_tolerance_n
    common = task.level_sd if factor_sd is None else factor_sd
    chances = chance(task, uncertainty, load, tolerance, common)
    on_gauge = None
    if task.unseen:
        on_gauge = chance(task, uncertainty.on_tester, load, tolerance, common).within_tolerance
    helps = what_helps(task, answer.stacks, load, uncertainty, tolerance, job) if ask_help else ()
    return PlanSet(
        stacks=plan_stacks(task, answer, uncertainty.sd_n),
        spread_n=answer.spread_n(weight),
        worn_spread_n=float(np.ptp(answer.worn_n * weight)),
        rest_spread_n=float(np.ptp(answer.rest_n * weight)),
        proven=matched.proven,
        spread_bound_n=matched.spread_bound_n,
        variance_gap=matched.variance_gap,
        chance_within_tolerance=chances.within_tolerance,
        chance_on_target=chances.on_target,
        chance_on_gauge=on_gauge,
        chance_known=BEFORE if factor_sd is None else AFTER,
        common_sd=common,
        doubt=tuple(asdict(part) for part in shares(uncertainty)),
        helps=tuple(asdict(help) for help in helps),
    )


def plan_stacks(task: Task, answer: Assigned, sd_n: Array | None = None) -> tuple[PlanStack, ...]:
    """Write the stacks of one assignment; `sd_n` (S) is the uncertainty of their loads if known."""
    p = task.packets(answer.stacks)
    share = greatest_share(p, answer.work_n)
    slope = rate(p, answer.work_n)
    height = free_height(p)
    sd = load_uncertainty(task, answer.stacks, answer.work_n).sd_n if sd_n is None else sd_n
    return tuple(
        PlanStack(
            shoe=i + 1,
            pattern=str(answer.patterns[i]),
            packets=stack,
            shims_mm=answer.shims[i],
            free_height_mm=float(height[i]),
            target_load_n=float(task.target_n[i]),
            rest_load_n=float(answer.rest_n[i]),
            working_load_n=float(answer.work_n[i]),
            worn_load_n=float(answer.worn_n[i]),
            working_load_sd_n=float(sd[i]),
            rate_n_per_mm=float(slope[i]),
            max_deflection_share=float(share[i]),
        )
        for i, stack in enumerate(task.named(answer.stacks))
    )


#: spreads told, as shares of the spread tolerance
SHARES = (0.25, 0.5, 0.75, 1.0, 1.5, WIDER)
#: sets whose chances are worked out; of more of them evenly spread ones stand for all
ASKED = 24


def sets_within(
    task: Task,
    sets: Sequence[Matched],
    doubts: Sequence[LoadUncertainty],
    beyond_n: Sequence[float],
    tolerance_n: float,
    common_sd: float,
) -> tuple[Within, ...]:
    """Count the sets of a lot within some spreads in N.

    Parameters
    ----------
    sets, doubts : the sets of the plan and the uncertainty of their loads
    beyond_n : spreads of sets that were dealt and are not in the plan

    Notes
    -----
    The number that is likely truly within a spread is the sum of the chances of the sets.
    """
    spreads = np.array([one.answer.spread_n(task.weight) for one in sets])
    measured = np.concatenate([spreads, np.asarray(beyond_n, dtype=np.float64)])
    asked = np.unique(np.linspace(0, len(sets) - 1, min(len(sets), ASKED)).astype(np.intp))
    weight = task.weight
    off = np.stack(
        [(sets[k].answer.work_n + doubts[k].shift_n - task.target_n) * weight for k in asked]
    )
    cover = np.stack([doubts[k].covariance_n2(common_sd) * np.outer(weight, weight) for k in asked])
    return tuple(
        Within(
            share * tolerance_n,
            int((measured <= share * tolerance_n).sum()),
            len(sets) * float(np.mean(spread_within(off, cover, share * tolerance_n))),
        )
        for share in SHARES
    )
