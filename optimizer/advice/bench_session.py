"""A session on the bench: a job, the set that is being matched, and how it is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from optimizer.advice.bench_step import Step, learned_job, planned_stacks, rig_of, step
from optimizer.advice.groups import group_travel_mm, plan_groups, promised
from optimizer.advice.hookup.now import set_of
from optimizer.assignment.limits import Limits, Report
from optimizer.bench.bag_file import calibrated_bag
from optimizer.bench.log import readings_csv
from optimizer.bench.readings import Reading, Readings, read_readings
from optimizer.bench.rig import Packs
from optimizer.errors import InputError, Problem, raise_if
from optimizer.plan.document import PlanSet
from optimizer.plan.store import read_plan, to_json
from optimizer.plan.workspace import Workspace, open_job


@dataclass(frozen=True)
class Session:
    """The job, the planned set, the size of groups (0 for none), when to stop, and the seed."""

    work: Workspace
    one: PlanSet
    size: int
    stop_at: float
    seed: int

    @property
    def planned(self) -> Mapping[int, Packs]:
        """The planned stack of each shoe."""
        return planned_stacks(self.one)

    @property
    def series(self) -> int:
        """Packets in series in a planned stack."""
        return len(self.one.stacks[0].packets)

    def read(self, path: Path) -> Readings:
        """Read a readings file of this session."""
        names = self.work.belief.names
        return read_readings(path, names, len(self.work.job.shoes), self.planned)

    def advise(self, rows: tuple[Reading, ...], limits: Limits, report: Report) -> Step:
        """Learn from all readings and advise."""
        keep = self.size > 0
        return step(self.work, self.one, rows, self.stop_at, limits, self.seed, keep, report)

    def groups(self) -> tuple[tuple[Packs, ...], float, float]:
        """Groups to gauge, their travel in mm, and the odds that they promise."""
        task, width = self.work.task, self.work.job.target.spread_tolerance_n
        groups = plan_groups(task, tuple(self.planned.values()), self.size)
        odds = promised(rig_of(self.work), task, groups, self.series, width)
        return groups, group_travel_mm(task, self.size, self.series), odds

    def learned(self, done: Step) -> Workspace:
        """Return the job, discs and task as readings taught them: the next plan rests on them."""
        job = learned_job(self.work.job, done.learned)
        return replace(self.work, job=job, belief=done.task.belief, task=done.task)

    def files(self, out: Path, done: Step, read: Readings) -> dict[Path, str | bytes]:
        """Return what is written beside the answer: next plan, calibrated bag, readings."""
        load = float(done.task.target_n.mean())
        work = self.work
        bag = calibrated_bag(work.bag, done.learned, work.job.instrument, load)
        return {
            out / "plan.json": to_json(done.next),
            out / "bag.csv": bag,
            out / "readings.csv": readings_csv(read.rows, work.job.units),
        }


def open_session(
    job: Path, plan: Path, number: int, size: int, stop_at: float, seed: int
) -> Session:
    """Read job, bag and plan.

    Raises
    ------
    InputError
        with what is wrong in them, or where the plan is of another bag.
    """
    work = open_job(job)
    one = set_of(read_plan(plan), number, str(plan))
    if len(one.stacks) != len(work.job.shoes):
        raise InputError(
            Problem(
                f"Expected a plan of {len(work.job.shoes)} stacks, got {len(one.stacks)}.",
                str(plan),
                "Give the plan of this job.",
            )
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
    return Session(work, one, size, stop_at, seed)
