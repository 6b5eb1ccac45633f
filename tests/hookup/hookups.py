"""A clutch of unequal shoes, matched once for all tests that start from it."""

from functools import cache
from pathlib import Path

from optimizer.clutch.shoes import shoes_of
from optimizer.control import Limits
from optimizer.face.sources import open_job
from optimizer.hookup.retarget import Retarget, retarget
from optimizer.hookup.today import ClutchState
from optimizer.io.documents import to_json
from optimizer.match.plan import plan
from optimizer.match.solve import Matched, match
from optimizer.match.workspace import Workspace

JOB = Path(__file__).parent / "clutch" / "job.toml"


@cache
def work() -> Workspace:
    return open_job(JOB)


@cache
def matched() -> Matched:
    return match(work().task, Limits(60))


def now() -> ClutchState:
    answer = matched().answer
    return ClutchState(shoes_of(work().job).contact_pull_kgm, answer.work_n, answer)


@cache
def found(later: float) -> Retarget:
    """Ways to a hookup so many rpm later."""
    target = now().hookup.mean_rpm + later
    spread = work().job.target.spread_tolerance_n
    return retarget(work().task, spread, now(), target, Limits(60))


@cache
def plan_text() -> str:
    return to_json(plan(work().job, work().task, (matched(),), work().warnings, 0, None))


def write_plan(folder: Path) -> Path:
    """Write the plan file of the matched set."""
    path = folder / "plan.json"
    path.write_text(plan_text(), encoding="utf-8")
    return path
