"""`bench`: what gauge readings tell, and what to change next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from optimizer.bench.decide import STOP_AT
from optimizer.bench.session import Session, open_session
from optimizer.bench.step import Step
from optimizer.control import Limits, Report, quiet
from optimizer.estimate.doubts import JudgedReadings
from optimizer.face.result import Result
from optimizer.io.documents import document
from optimizer.report.bench_card import bench_text, bench_why
from optimizer.report.bench_json import bench_json
from optimizer.report.page import sheet_files

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class BenchResult(Result):
    """What was learned from the readings so far, and the advice; `step.next` is the next plan."""

    session: Session
    read: JudgedReadings
    step: Step
    saved_as = "bench"

    def summary(self) -> str:
        """Say what to do next, and how likely the set matches."""
        return bench_text(self.step, self.session.learned(self.step))

    def why(self) -> str:
        """Say what the decision rests on: what stands, and what was learned."""
        return bench_why(self.step, self.session.work)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every shoe: the load believed, its sd, and whether it was read."""
        import pandas as pd

        now = self.step.advice.loads
        shoes = range(1, len(self.step.stacks) + 1)
        return pd.DataFrame(
            {
                "shoe": list(shoes),
                "load_n": now.mean_n,
                "sd_n": np.sqrt(np.diag(now.covariance_n2)),
                "read": [shoe not in self.step.unread for shoe in shoes],
            }
        )

    @property
    def warnings(self) -> tuple[str, ...]:
        """What looked odd in job, bag and readings."""
        return (*self.session.work.warnings, *self.read.warnings)

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return document(bench_json(self.step, self.warnings, self.read.doubts))

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return plan.json and sheet.html of what to build next, and readings.csv."""
        learned = self.session.learned(self.step)
        page = sheet_files(folder / "sheet.html", self.step.next, learned, date.today(), self.step)
        return {**self.session.files(folder, self.step, self.read), **page}


def bench(
    job: str | Path,
    plan: str | Path,
    readings: str | Path | None = None,
    number: int = 1,
    stop_at: float = STOP_AT,
    seed: int = 0,
    time_limit: float | None = None,
    fresh: bool = False,
    report: Report = quiet,
    groups: int = 0,
) -> BenchResult:
    """Learn from gauge readings of a plan's stacks and advise what to change.

    What is learned is kept beside the job, so that the other functions go by it.

    Parameters
    ----------
    readings : CSV or XLSX, one row a reading; readings.csv beside the plan where None
    number : which set of the plan
    stop_at : chance of a match at which the set is good enough
    groups : discs of a sub-stack where such are gauged and then stay together, 0 for none

    Raises
    ------
    InputError
        with everything that is wrong in a file, or where the plan is of another bag.
    """
    log = None if readings is None else Path(readings)
    session = open_session(Path(job), Path(plan), log, number, groups, stop_at, seed, fresh)
    read = session.read()
    step = session.advise(read.rows, Limits.of(time_limit), report)
    session.keep(step)
    return BenchResult(session, read, step)
