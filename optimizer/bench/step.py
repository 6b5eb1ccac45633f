"""One step on the bench: from a plan and the readings so far to the next plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.bench.decide import Advice, judged, next_move
from optimizer.bench.groups import choose_groups, kept_together
from optimizer.bench.moves import Move
from optimizer.control import Interrupted, Limits, Report, quiet
from optimizer.errors import CannotBuildError, Problem, raise_if
from optimizer.estimate.builds import Standing
from optimizer.estimate.consistency import Verdict, judge
from optimizer.estimate.known import Known, as_built
from optimizer.estimate.learn import Learned, Loads, in_clutch, loads
from optimizer.estimate.problem import Task
from optimizer.match.mid_work import told
from optimizer.match.plan import plan as write_plan
from optimizer.match.result import Matched, exact
from optimizer.match.solve import match
from optimizer.match.workspace import Workspace, learned_job, taught
from optimizer.model.job import Job
from optimizer.model.plan import AFTER, Plan, PlanSet, PlanStack
from optimizer.model.readings import Reading
from optimizer.model.stack import Shims, Stack, StackSet, shim_totals

NOTHING = Standing({}, {})


@dataclass(frozen=True)
class Step:
    """What the readings told and what to do now.

    `known` is what stands and what all sessions taught; `chance_if_apart` is the chance once
    every stack is taken apart and built again with the same discs, `chance_in_clutch` those of what
    stands once it is in the clutch; `task` poses the learned discs.
    """

    known: Known
    verdict: Verdict
    advice: Advice
    task: Task
    chance_if_apart: float
    chance_in_clutch: float
    next: Plan

    @property
    def learned(self) -> Learned:
        """The state after all readings."""
        return self.known.learned

    @property
    def stacks(self) -> tuple[Stack, ...]:
        """What stands under each shoe."""
        return self.known.stacks

    @property
    def unread(self) -> tuple[int, ...]:
        """Shoes whose stack was never on the gauge: no set stops before each was."""
        return self.known.unread


def step(
    work: Workspace,
    known: Known,
    stop_at: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
) -> Step:
    """Advise after the readings of a session, the last record of `known`.

    Parameters
    ----------
    work : the job as measured
    stop_at : chance at which the set is good enough

    Raises
    ------
    InputError
        when a shoe has neither a reading nor a stack whose discs are free.
    """
    _refuse_lost(known)
    job, now = work.job, known.records[-1]
    learned, stacks, unread, shims = known.learned, known.stacks, known.unread, known.shims_mm
    totals = shim_totals(shims)
    width = job.target.spread_tolerance_n
    task = taught(work, known).task
    groups = tuple(learned.standing.groups)
    task = kept_together(task, learned)

    def rebuild() -> StackSet | None:
        try:
            if groups:
                each = len(now.stacks[0]) // len(groups[0])
                return choose_groups(learned, task, groups, each, totals, width, seed), shims
            answer = match(task, limits, seed, report).answer
        except (CannotBuildError, Interrupted):
            return None
        return task.named(answer.stacks), answer.shims

    never_built = bool(groups) and len(unread) == len(stacks)
    stop_at = 2.0 if never_built else stop_at
    advice = next_move(learned, task, stacks, totals, width, rebuild, stop_at, job.effort)
    verdict = judge(learned, now.rows)
    advice = steadied(advice, verdict, now.rows, unread)
    apart = loads(replace(learned, standing=NOTHING), stacks, totals)
    moved = advice.advised
    return Step(
        known,
        verdict,
        advice,
        task,
        judged(apart, task, width)[0],
        judged(in_clutch(learned.rig, advice.loads), task, width)[0],
        next_plan(work, learned, task, stacks, shims, moved, seed, limits.stopped_by),
    )


def _refuse_lost(known: Known) -> None:
    raise_if(
        Problem(
            f"Shoe {shoe} has no stack: discs planned for it are now under another shoe.",
            "readings",
            "Add a reading of it that names its discs.",
        )
        for shoe, packs in enumerate(known.stacks, 1)
        if not packs
    )


def steadied(
    advice: Advice, verdict: Verdict, readings: Sequence[Reading], unread: Sequence[int]
) -> Advice:
    """Do not chase noise: where readings contradict everything, read again before a move.

    So too where a shoe was read and none of its readings counts. Once the same build was read
    in two rounds it is no slip of the gauge, and the advice stands; but no set stops while a
    shoe is unread. Shoes that were never read are read before a move: they have to be before any
    set stops, and tell which stack to change.
    """
    settled = [r for r in readings if r.kind == "settled"]
    rounds = Counter((r.shoe, r.packs) for r in {(r.round, r.shoe): r for r in settled}.values())
    last = {(r.shoe, r.packs) for r in settled if r.round == settled[-1].round}
    slipped = {build for build in last if build[0] in unread}
    once = any(rounds[build] == 1 for build in slipped)
    chasing = verdict.contradiction and all(rounds[build] == 1 for build in last)
    read = {r.shoe for r in settled if r.shoe}
    never = bool(read) and not read.issuperset(unread)
    waits = never or (advice.kind in ("stop", "leave") and bool(unread))
    return replace(advice, kind="reread") if once or chasing or waits else advice


def next_plan(
    work: Workspace,
    learned: Learned,
    task: Task,
    stacks: tuple[Stack, ...],
    shims: Shims,
    moved: Move | None,
    seed: int,
    stopped: str | None,
) -> Plan:
    """Write the plan of what to put under each shoe next, with its chances after readings.

    `stopped` says what ended the search for a better move early, if anything did.
    """
    after = stacks if moved is None else moved.stacks
    shims = shims if moved is None else moved.shims or shims
    matched = Matched(exact(task, task.members(after), shims, 0.0), False, 0.0, None, ())
    job = learned_job(work.job, learned)
    sd = learned.load_factor_sd / learned.load_factor
    made = write_plan(job, task, (matched,), work.warnings, seed, None, sd, stopped)
    read = loads(learned, after, shim_totals(shims))
    one = _with_chances(made.sets[0], work.job, task, learned, read)
    return told(replace(made, sets=(one,)), work.elsewhere)


def _with_chances(one: PlanSet, job: Job, task: Task, learned: Learned, read: Loads) -> PlanSet:
    """Put the loads and chances of the whole state, which know what stands, into a plan."""
    then = in_clutch(learned.rig, read)
    sd = np.sqrt(np.diag(then.covariance_n2))

    def told(stack: PlanStack, load: float, doubt: float) -> PlanStack:
        others = np.array([stack.rest_load_n, stack.worn_load_n])
        rest, worn = as_built(others, stack.working_load_n, load, task.datum)
        return replace(
            stack,
            rest_load_n=float(rest),
            working_load_n=load,
            worn_load_n=float(worn),
            working_load_sd_n=doubt,
        )

    width = job.target.spread_tolerance_n
    within, on_target = judged(then, task, width)
    on_gauge = None if one.chance_on_gauge is None else judged(read, task, width)[0]
    stacks = tuple(
        told(stack, float(load), float(doubt))
        for stack, load, doubt in zip(one.stacks, then.mean_n, sd, strict=True)
    )
    rest, worn = (
        float(np.ptp(np.array([getattr(s, name) for s in stacks]) * task.weight))
        for name in ("rest_load_n", "worn_load_n")
    )
    return replace(
        one,
        stacks=stacks,
        spread_n=float(np.ptp(then.mean_n * task.weight)),
        rest_spread_n=rest,
        worn_spread_n=worn,
        chance_within_tolerance=within,
        chance_on_target=on_target,
        chance_on_gauge=on_gauge,
        chance_known=AFTER,
        helps=(),
    )
