"""A session on the bench: a job, the set that is being matched, the discs it has to do with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.bench.groups import group_travel_mm, plan_groups, promised
from optimizer.bench.step import Step, step
from optimizer.control import Limits, Report
from optimizer.errors import InputError, Problem, raise_if
from optimizer.estimate.doubts import Doubt, JudgedReadings, doubts
from optimizer.estimate.known import earlier, in_order, record, teach, with_record
from optimizer.estimate.problem import pose
from optimizer.io.documents import read_plan, to_json
from optimizer.io.known_file import known_path, read_known, relative_source, write_known
from optimizer.io.readings import read_readings
from optimizer.io.readings_log import readings_csv, readings_file
from optimizer.match.solve import thinned
from optimizer.match.workspace import Workspace, as_seen, measured, taught
from optimizer.mechanics.packet import Index
from optimizer.model.plan import Plan, PlanSet, set_of
from optimizer.model.readings import Reading, Record, Speed
from optimizer.model.stack import Stack, discs_of
from optimizer.units import N_PER_LBF

#: discs of a bag from which on most spares are left out of sight: what readings tell is kept for
#: every pair of discs
MOST_DISCS = 300


def for_set(work: Workspace, plan: Plan, one: PlanSet) -> Workspace:
    """Return the workspace of one set of a plan, in which discs of other sets stay there.

    So do those that must stay with another set. Of a large lot so many spares are kept as a
    search can do with.
    """
    own = one.discs
    others = {disc for other in plan.sets if other is not one for disc in other.discs}
    others = others.union(plan.elsewhere) - own
    marks = {"", *(disc.keep_with for disc in work.bag.discs if disc.name in own)}
    kept = others | {disc.name for disc in work.bag.discs if disc.keep_with not in marks}
    names, task = work.belief.names, work.task
    usable = np.array([d for d in task.usable if names[d] not in kept], dtype=np.intp)
    task = replace(task, usable=usable)
    work = replace(work, elsewhere=frozenset(others))
    if len(names) <= MOST_DISCS:
        return replace(work, task=task)
    stands = np.array([d for d, name in enumerate(names) if name in own], dtype=np.intp)
    few = thinned(replace(task, usable=np.union1d(usable, stands), use=stands)).usable
    return _of(work, np.union1d(few, stands))


def of_these(records: tuple[Record, ...], work: Workspace) -> tuple[Record, ...]:
    """Sessions on the bench of which every disc is in sight."""
    known = set(work.belief.names)
    return tuple(
        record
        for record in records
        if all(
            discs_of(packs) <= known
            for packs in (*record.stacks, *(row.packs for row in record.rows))
        )
    )


def _of(work: Workspace, kept: Index) -> Workspace:
    """The workspace of some of its discs."""
    belief = work.belief.take(kept)
    known, rules = set(belief.names), work.job.stack
    stack = replace(
        rules,
        use=tuple(name for name in rules.use if name in known),
        leave=tuple(name for name in rules.leave if name in known),
        together=tuple(group for group in rules.together if set(group) <= known),
    )
    job = replace(work.job, stack=stack)
    return replace(work, job=job, belief=belief, task=pose(belief, job, work.task.target_n))


@dataclass(frozen=True)
class Session:
    """The job as measured, the planned set, and the file that its readings stand in.

    `size` is that of groups (0 for none), `stop_at` the chance to stop at; `records` and `speed`
    are what was known before, which stays known where a `fresh` session goes without; `number` is
    that of the set among the `sets` of its plan.
    """

    work: Workspace
    one: PlanSet
    log: Path
    size: int
    stop_at: float
    seed: int
    records: tuple[Record, ...]
    speed: Speed | None
    number: int = 1
    sets: int = 1
    fresh: bool = False

    @property
    def heard(self) -> tuple[Record, ...]:
        """Earlier sessions that this one goes by."""
        return () if self.fresh else self.records

    @property
    def planned(self) -> Mapping[int, Stack]:
        """The planned stack of each shoe."""
        return {stack.shoe: stack.packets for stack in self.one.stacks}

    @property
    def series(self) -> int:
        """Packets in series in a planned stack."""
        return len(self.one.stacks[0].packets)

    def read(self) -> JudgedReadings:
        """Read the readings of this session, each judged against what was to be expected."""
        names = self.work.belief.names
        shoes = len(self.work.job.shoes)
        found = read_readings(self.log, names, shoes, self.planned, self.number)
        odd = self._doubts(found.rows, ())
        rows = tuple(
            replace(row, trust="doubted") if k in odd else row for k, row in enumerate(found.rows)
        )
        doubted = tuple(replace(d, reading=rows[k]) for k, d in odd.items())
        return JudgedReadings(rows, found.warnings, doubted)

    def doubt(
        self, rows: tuple[Reading, ...], typed: Reading, others: Sequence[Reading]
    ) -> Doubt | None:
        """Judge a reading that was just typed; `others` are stacks it may have been meant for."""
        rows = tuple(row for row in rows if row.round <= typed.round)
        found = self._doubts((*rows, replace(typed, trust="usual")), others)
        return found.get(len(rows))

    def _doubts(self, rows: tuple[Reading, ...], others: Sequence[Reading]) -> dict[int, Doubt]:
        """Doubts by the number of the row."""
        before = of_these(earlier(self.heard, self.record(rows)), self.work)
        sessions = (*before, self.record((*rows, *others)))
        every = in_order(sessions)
        end = len(every) - len(others)
        judged = range(end - len(rows), end)
        unit_n = N_PER_LBF if self.work.job.units == "in" else 1.0
        found = doubts(self.work.task, every, judged, unit_n, self.size > 0)
        return {k - judged.start: doubt for k, doubt in found.items()}

    def record(self, rows: tuple[Reading, ...]) -> Record:
        """Write down this session as far as it was read."""
        stacks = sorted(self.one.stacks, key=lambda stack: stack.shoe)
        source = relative_source(self.work.job, self.log)
        packs, shims = [s.packets for s in stacks], [s.shims_mm for s in stacks]
        return record(source, packs, shims, self.size > 0, rows)

    def advise(self, rows: tuple[Reading, ...], limits: Limits, report: Report) -> Step:
        """Learn from all readings, those of earlier sessions too, and advise."""
        now = self.record(rows)
        before = of_these(earlier(self.heard, now), self.work)
        known = teach(self.work.task, (*before, now), None if self.fresh else self.speed)
        return step(self.work, known, self.stop_at, limits, self.seed, report)

    @property
    def kept(self) -> Path:
        """The file of what is known of the job."""
        return known_path(self.work.job)

    def keep(self, done: Step) -> None:
        """Write what is known now beside the job."""
        records = with_record(self.records, done.known.records[-1])
        write_known(self.work.job, self.work.bag, records, self.speed)

    def groups(self) -> tuple[tuple[Stack, ...], float, float]:
        """Groups to gauge, their travel in mm, and the chance that they promise."""
        task, width = self.work.task, self.work.job.target.spread_tolerance_n
        groups = plan_groups(task, tuple(self.planned.values()), self.size)
        chance = promised(task, groups, self.series, width)
        return groups, group_travel_mm(task, self.size, self.series), chance

    def learned(self, done: Step) -> Workspace:
        """Return the job, discs and task as readings taught them: the next plan rests on them."""
        return taught(self.work, done.known)

    def files(self, out: Path, done: Step, read: JudgedReadings) -> dict[Path, str | bytes]:
        """Return what is written beside the answer: the next plan and the readings."""
        return {
            out / "plan.json": to_json(done.next),
            out / "readings.csv": readings_csv(read.rows, self.work.job.units),
        }


def open_session(
    job: Path,
    plan: Path,
    readings: Path | None,
    number: int,
    size: int,
    stop_at: float,
    seed: int,
    fresh: bool,
) -> Session:
    """Read job, bag and plan, and unless `fresh` what earlier sessions taught.

    Readings are kept beside the plan where no file of them is given.

    Raises
    ------
    InputError
        with what is wrong in them, or where the plan is of another bag.
    """
    work = measured(job)
    whole = read_plan(plan)
    one = set_of(whole, number, str(plan))
    if len(one.stacks) != len(work.job.shoes):
        raise InputError(
            f"Expected a plan of {len(work.job.shoes)} stacks, got {len(one.stacks)}.",
            str(plan),
            "Give the plan of this job.",
        )
    known = set(work.belief.names)
    raise_if(
        Problem(
            f"Expected discs of the bag {work.bag.path.name}, got {disc}.",
            str(plan),
            "Give the plan that was made from this bag.",
        )
        for stack in one.stacks
        for packet in stack.packets
        for disc in packet
        if disc not in known
    )
    log = readings or readings_file(plan, number)
    records, speed = _known_before(work, fresh)
    work = for_set(work if fresh else as_seen(work, speed), whole, one)
    return Session(
        work, one, log, size, stop_at, seed, records, speed, number, len(whole.sets), fresh
    )


def _known_before(work: Workspace, fresh: bool) -> tuple[tuple[Record, ...], Speed | None]:
    """What is known of a job; nothing for a `fresh` session where it is of something else."""
    try:
        return read_known(work.job, work.bag)
    except InputError:
        if not fresh:
            raise
        return (), None
