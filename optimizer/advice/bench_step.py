"""One step on the bench: from a plan and the readings so far to the next plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.advice.groups import choose_groups
from optimizer.advice.next_move import Advice, Anew, judged, next_move
from optimizer.advice.options import Option
from optimizer.assignment.limits import Limits, Report, quiet
from optimizer.assignment.problem import Task, pose
from optimizer.assignment.result import exact
from optimizer.assignment.solver import Matched, match
from optimizer.bench.builds import Standing
from optimizer.bench.learn import Learned, Loads, calibrated, learn, loads
from optimizer.bench.readings import Reading
from optimizer.bench.rig import Packs, Rig
from optimizer.bench.verdict import Verdict, judge
from optimizer.errors import CannotBuildError, InputError, Problem
from optimizer.job.model import Job
from optimizer.physics.packet import Index
from optimizer.plan.build import plan as write_plan
from optimizer.plan.document import AFTER, Plan, PlanSet, PlanStack
from optimizer.plan.workspace import Workspace

NOTHING = Standing({}, {})


@dataclass(frozen=True)
class Step:
    """What the readings told and what to do now.

    `stacks` stand; `unread` are the shoes whose stack was never on the gauge: no set stops
    before each was;
    `odds_if_apart` are the odds once every stack is taken apart and built again with the
    same discs; `task` poses the learned discs.
    """

    learned: Learned
    verdict: Verdict
    advice: Advice
    task: Task
    stacks: tuple[Packs, ...]
    unread: tuple[int, ...]
    odds_if_apart: float
    next: Plan


def rig_of(work: Workspace) -> Rig:
    """Return what stands on the bench before any reading."""
    task = work.task
    return Rig(work.belief, task.discs, task.model, task.datum, task.travel_mm, work.job.gauge)


def planned_stacks(one: PlanSet) -> Mapping[int, Packs]:
    """Return the stack of each shoe of a planned set."""
    return {stack.shoe: stack.packets for stack in one.stacks}


def learned_job(job: Job, learned: Learned) -> Job:
    """Return the job with the load factor as learned."""
    return replace(job, model=replace(job.model, load_factor=learned.load_factor))


def step(
    work: Workspace,
    one: PlanSet,
    readings: tuple[Reading, ...],
    stop_at: float,
    limits: Limits,
    seed: int = 0,
    keep_groups: bool = False,
    report: Report = quiet,
) -> Step:
    """Learn from the readings and advise.

    Parameters
    ----------
    work, one : the job and the planned set that stands, or stood at first
    readings : all readings so far, oldest first
    stop_at : odds at which the set is good enough
    keep_groups : discs gauged without a shoe stay together

    Raises
    ------
    InputError
        when a shoe has neither a reading nor a stack whose discs are free.
    """
    job = work.job
    shims = tuple(stack.shims_mm for stack in one.stacks)
    totals = tuple(sum(s) for s in shims)
    width = job.target.spread_tolerance_n
    learned = learn(rig_of(work), readings, totals, keep_groups)
    stacks, unread = standing_stacks(learned, planned_stacks(one), len(job.shoes))
    task = pose(calibrated(learned).belief, learned_job(job, learned), work.task.target_n)
    groups = tuple(learned.standing.groups)
    task = replace(task, together=task.together + _together(learned, groups))

    def rebuild() -> Anew | None:
        try:
            if groups:
                each = len(one.stacks[0].packets) // len(groups[0])
                return choose_groups(learned, task, groups, each, totals, width, seed), shims
            answer = match(task, limits, seed, report).answer
        except CannotBuildError:
            return None
        names = task.belief.names
        return (
            tuple(tuple(tuple(names[d] for d in p) for p in stack) for stack in answer.stacks),
            answer.shims,
        )

    never_built = bool(groups) and len(unread) == len(stacks)
    advice = next_move(
        learned, task, stacks, totals, width, rebuild, 2.0 if never_built else stop_at
    )
    verdict = judge(learned, readings)
    advice = _steadied(advice, verdict, readings)
    if unread and advice.kind == "stop":
        advice = replace(advice, kind="reread")
    apart = loads(replace(learned, standing=NOTHING), stacks, totals)
    moved = advice.moves[0] if advice.kind in ("swap", "rebuild") else None
    return Step(
        learned,
        verdict,
        advice,
        task,
        stacks,
        unread,
        judged(apart, task, width)[0],
        next_plan(work, learned, task, stacks, shims, moved, seed),
    )


def _together(learned: Learned, groups: tuple[Packs, ...]) -> tuple[Index, ...]:
    """Disc numbers of groups, which no swap may part."""
    members = [learned.rig.members((group,)).ravel() for group in groups]
    return tuple(discs[discs >= 0] for discs in members)


def standing_stacks(
    learned: Learned, planned: Mapping[int, Packs], shoes: int
) -> tuple[tuple[Packs, ...], tuple[int, ...]]:
    """Return what stands under each shoe, last readings first, then the plan."""
    read = {shoe: built.packs for shoe, built in learned.standing.shoes.items()}
    taken = {disc for packs in read.values() for packet in packs for disc in packet}
    stacks, unread, lost = [], [], []
    for shoe in range(1, shoes + 1):
        packs = read.get(shoe) or planned.get(shoe, ())
        if shoe not in read:
            unread.append(shoe)
            if not packs or taken & {disc for packet in packs for disc in packet}:
                lost.append(shoe)
        stacks.append(packs)
    if lost:
        raise InputError(
            *(
                Problem(
                    f"Shoe {shoe} has no stack: discs planned for it are now under another shoe.",
                    "readings",
                    "Add a reading of it that names its discs.",
                )
                for shoe in lost
            )
        )
    return tuple(stacks), tuple(unread)


def _steadied(advice: Advice, verdict: Verdict, readings: tuple[Reading, ...]) -> Advice:
    """Do not chase noise: where readings contradict everything, read again before a move.

    Once the same build was read twice the contradiction is no slip of the gauge, and the
    advice stands.
    """
    settled = [r for r in readings if r.kind == "settled"]
    if not verdict.contradiction or not settled:
        return advice
    last = settled[-1].round
    before = {(r.shoe, r.packs) for r in settled if r.round < last}
    again = {(r.shoe, r.packs) for r in settled if r.round == last} & before
    return advice if again else replace(advice, kind="reread")


def next_plan(
    work: Workspace,
    learned: Learned,
    task: Task,
    stacks: tuple[Packs, ...],
    shims: tuple[tuple[float, ...], ...],
    moved: Option | None,
    seed: int,
) -> Plan:
    """Write the plan of what to put under each shoe next, with its odds after readings."""
    after = stacks if moved is None else moved.stacks
    shims = shims if moved is None else moved.shims or shims
    number = {name: i for i, name in enumerate(task.belief.names)}
    discs = tuple(tuple(tuple(number[d] for d in packet) for packet in s) for s in after)
    matched = Matched(exact(task, discs, shims, 0.0), False, 0.0, None, ())
    job = learned_job(work.job, learned)
    sd = learned.load_factor_sd / learned.load_factor
    made = write_plan(job, task, (matched,), work.warnings, seed, None, sd)
    then = loads(learned, after, tuple(sum(s) for s in shims))
    return replace(made, sets=(_with_odds(made.sets[0], work.job, task, then),))


def _with_odds(one: PlanSet, job: Job, task: Task, then: Loads) -> PlanSet:
    """Put the loads and odds of the whole state, which know what stands, into a plan."""
    sd = np.sqrt(np.diag(then.covariance_n2))

    def known(stack: PlanStack, load: float, doubt: float) -> PlanStack:
        return replace(stack, working_load_n=load, working_load_sd_n=doubt)

    odds, on_target = judged(then, task, job.target.spread_tolerance_n)
    return replace(
        one,
        stacks=tuple(
            known(stack, float(load), float(doubt))
            for stack, load, doubt in zip(one.stacks, then.mean_n, sd, strict=True)
        ),
        spread_n=float(np.ptp(then.mean_n * task.weight)),
        odds_within_tolerance=odds,
        odds_on_target=on_target,
        odds_known=AFTER,
        helps=(),
    )
