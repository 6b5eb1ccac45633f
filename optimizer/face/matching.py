"""`match`: which discs go under which shoe."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.control import Limits, Report, quiet
from optimizer.face.result import Result
from optimizer.face.sources import BagLike, JobLike, open_job
from optimizer.io.documents import to_json
from optimizer.io.files import write_all_new
from optimizer.match.lots import Dealt
from optimizer.match.mid_work import MidWork, set_aside, told
from optimizer.match.own_sets import marks_of, match_bag
from optimizer.match.plan import plan as write_plan
from optimizer.match.workspace import Workspace
from optimizer.model.plan import Plan
from optimizer.report.page import sheet_files
from optimizer.report.plan_card import card, statistics

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class MatchResult(Result):
    """The plan of one set or of many, with the job and discs that it is of."""

    work: Workspace
    plan: Plan
    saved_as = "plan"

    def summary(self) -> str:
        """Return the card: what to put where, and what the gauge should say."""
        return card(self.plan, self.work)

    def why(self) -> str:
        """Return what the plan rests on: loads, doubts and chances of every set."""
        return statistics(self.plan, self.work.job)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every disc placed: set, shoe, packet and place from the bottom."""
        return self.plan.to_frame()

    def document(self) -> str:
        """Return the plan as one JSON document."""
        return to_json(self.plan)

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return plan.json, card.txt and the build sheet, in as many parts as it takes."""
        return {
            folder / "plan.json": to_json(replace(self.plan, solve_seconds=None)),
            folder / "card.txt": self.text(why=True),
            **sheet_files(folder / "sheet.html", self.plan, self.work, date.today()),
        }


def match(
    job: JobLike,
    bag: BagLike | None = None,
    sets: int | None = 1,
    seed: int = 0,
    time_limit: float | None = None,
    fresh: bool = False,
    limits: Limits | None = None,
    report: Report = quiet,
    standing: MidWork | None = None,
) -> MatchResult:
    """Assign the discs of a bag to the stacks of a clutch so that all shoes push alike.

    Parameters
    ----------
    job : a job file, a job, or an opened job
    bag : the discs as `read_bag` takes them, where they are not those of the job's file
    sets : sets to make of a lot, None for as many as it admits
    time_limit : seconds after which the best so far is taken; none where None
    fresh : go by the measurements alone, not by what the bench taught
    limits : stands in for `time_limit` where something else may end the search
    report : is told the stage and the share of the work that is done
    standing : sets of a lot that are built already and discs that are lost, from
        `optimizer.match.mid_work.mid_work`; the rest is dealt without them

    Raises
    ------
    CannotBuildError
        when no set within the limits was found; says whether that is proven and what binds.
    InputError
        with everything that is wrong in job or bag.

    Examples
    --------
    >>> found = match("examples/kart_mm/job.toml")
    >>> [stack.shoe for stack in found.plan.sets[0].stacks]
    [1, 2, 3]
    >>> list(found.to_frame().columns)[:5]
    ['set', 'shoe', 'packet', 'place', 'disc']
    """
    from time import monotonic

    started = monotonic()
    work = open_job(job, bag, fresh)
    limits = limits or Limits.of(time_limit)
    notes: tuple[str, ...] = ()
    if standing is not None:
        work, notes = set_aside(work, standing.built, standing.lost)
        notes = (standing.note, *notes)
    dealt = dealt_of(work, sets, seed, limits, report)
    return written(work, dealt, seed, monotonic() - started, limits, work.elsewhere, notes)


def dealt_of(work: Workspace, sets: int | None, seed: int, limits: Limits, report: Report) -> Dealt:
    """Match one set of a workspace, or deal it into `sets`, None for as many as it admits."""
    spread_n = work.job.target.spread_tolerance_n
    dealt = match_bag(work.task, marks_of(work), sets, spread_n, limits, seed, report)
    fewer = fewer_words(sets, len(dealt.sets))
    return replace(dealt, notes=(fewer, *dealt.notes)) if fewer else dealt


def fewer_words(asked: int | None, sets: int) -> str:
    """Say that there are fewer sets than were asked for; empty where there are not."""
    if asked is None or sets >= asked:
        return ""
    return f"{asked} sets were asked for, and the bag gives {sets}."


def written(
    work: Workspace,
    dealt: Dealt,
    seed: int,
    seconds: float,
    limits: Limits,
    away: frozenset[str],
    notes: tuple[str, ...],
) -> MatchResult:
    """Write the plan of what was dealt; `away` are discs that are not there to be left over."""
    warnings = (*work.warnings, *dealt.notes)
    factor_sd = None if work.known is None else work.known.factor_sd
    stopped = limits.stopped_by
    plan = write_plan(
        work.job, work.task, dealt.sets, warnings, seed, seconds, factor_sd, stopped, dealt.beyond_n
    )
    mark = {disc.name: disc.keep_with for disc in work.bag.discs if disc.keep_with}
    if mark:
        of = [next((mark[d] for d in one.discs if d in mark), "") for one in plan.sets]
        marked = (replace(s, keep_with=m) for s, m in zip(plan.sets, of, strict=True))
        plan = replace(plan, sets=tuple(marked))
    return MatchResult(work, told(plan, away, notes))


def build_sheet(found: MatchResult, path: str | Path) -> tuple[Path, ...]:
    """Write the sheet to build by, one self-contained HTML page or, of many sets, several.

    Raises
    ------
    InputError
        when a file is in the way or cannot be written.
    """
    pages = sheet_files(Path(path), found.plan, found.work, date.today())
    write_all_new(pages)
    return tuple(pages)
