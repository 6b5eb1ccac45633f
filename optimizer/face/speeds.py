"""`engagement` and `retarget`: at which speed shoes take hold, and how to change it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from optimizer.clutch.drift import LINING_SHARE_PER_MM
from optimizer.clutch.shoes import has_masses, linings_of, shoes_of
from optimizer.control import Limits, Report, quiet
from optimizer.errors import InputError
from optimizer.estimate.pace import paced
from optimizer.estimate.problem import Task
from optimizer.face.result import Result
from optimizer.face.sources import JobLike, open_job
from optimizer.hookup.loads import read_loads, seen_loads
from optimizer.hookup.now import Engagement, level_doubt, remarks
from optimizer.hookup.now import engagement as engage
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.retarget import retarget as search
from optimizer.hookup.today import ClutchState, start, today
from optimizer.io.engine import read_engine
from optimizer.match.own_sets import of_one_set
from optimizer.match.workspace import Workspace, keep_speed
from optimizer.model.readings import Speed
from optimizer.model.running import TorqueCurve
from optimizer.orders.catalog_reader import read_catalog
from optimizer.report.hookup_card import engagement_card, retarget_card
from optimizer.report.hookup_json import engagement_json, retarget_json
from optimizer.report.hookup_pictures import engagement_pictures
from optimizer.report.hookup_why import engagement_why, retarget_why
from optimizer.report.pictures import picture
from optimizer.report.speed_pictures import engagement_picture

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class EngagementResult(Result):
    """Engagement speeds, torque against speed, and drift with wear."""

    work: Workspace
    engagement: Engagement
    warnings: tuple[str, ...]
    curve: TorqueCurve | None = None
    saved_as = "engagement"

    def summary(self) -> str:
        """Say at which speeds the shoes take hold, and what wear does to it."""
        return engagement_card(self.engagement, self.work.job, self.warnings)

    def why(self) -> str:
        """Say what throws each shoe out, and how well the loads are known."""
        return engagement_why(self.engagement, self.work)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every shoe: load, engagement speed and its sd."""
        import pandas as pd

        how = self.engagement.hookup
        table = {
            "shoe": list(range(1, len(how.work_n) + 1)),
            "load_n": how.work_n,
            "touch_rpm": how.touch_rpm,
        }
        sd = {} if how.touch_sd_rpm is None else {"touch_sd_rpm": how.touch_sd_rpm}
        return pd.DataFrame({**table, **sd})

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return engagement_json(self.engagement, self.warnings)

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return engagement.json, engagement.txt, and pictures of what is known."""
        drawn = engagement_pictures(self.engagement, self.curve, self.work.job)
        return {**super().files(folder), **{folder / name: svg for name, svg in drawn.items()}}

    def drawn(self, path: Path) -> bytes:
        """Return shoes, wear and torque as a picture, SVG or PNG by the suffix of `path`."""
        return picture(engagement_picture(self.engagement, self.work.job.units), path)


@dataclass(frozen=True)
class RetargetResult(Result):
    """Ways to a later or earlier hookup, best first."""

    units: str
    found: Retarget
    warnings: tuple[str, ...]
    work: Workspace
    task: Task
    saved_as = "retarget"

    def summary(self) -> str:
        """Say what to do for it, way by way, and what to buy where nothing on hand reaches it."""
        return retarget_card(self.found, self.units, self.warnings)

    def why(self) -> str:
        """Say what loads the new speed takes, and how the ways compare."""
        return retarget_why(self.found, self.units)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every way: mean speed, band, deflection share, discs moved."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "way": number,
                    "what": one.what,
                    "pattern": str(one.stacks[0].pattern),
                    "mean_rpm": one.hookup.mean_rpm,
                    "band_rpm": one.hookup.band_rpm,
                    "deflection_share": one.share,
                    "loose": one.loose,
                    "moved": one.moved,
                }
                for number, one in enumerate(self.found.ways, 1)
            ]
        )

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return retarget_json(self.found, self.warnings)


def engagement(
    job: JobLike,
    plan: str | Path | None = None,
    number: int = 1,
    fresh: bool = False,
    lining_g_per_mm: float | None = None,
    loads_n: Sequence[float] | None = None,
    readings: str | Path | None = None,
    rpm_seen: float | None = None,
    rpm_hold: float | None = None,
    rpm_sd: float = 0.0,
) -> EngagementResult:
    """Work out at which speed the shoes take hold.

    Parameters
    ----------
    plan : plan file of the stacks in the clutch; what the bench left standing, or else the
        job's target loads, where None
    number : which set of the plan
    lining_g_per_mm : mass a shoe loses per mm of lining; assumed where None
    loads_n : loads at the travel as measured, shoe by shoe
    readings : file of readings, of which the last settled one of each shoe counts
    rpm_seen, rpm_hold : engagement speed seen with these loads, and engine speed at full throttle
        while the clutch slipped, read to `rpm_sd`; kept beside the job

    Raises
    ------
    InputError
        when the job lacks masses or radii of the shoes, the plan is of another bag, or loads
        lack for a speed that was seen.

    Examples
    --------
    >>> found = engagement("examples/kart_mm/job.toml")
    >>> 3300 < found.engagement.hookup.mean_rpm < 3400
    True
    """
    if loads_n is not None and readings is not None:
        raise InputError("Expected --loads or --readings, got both. Leave one away.")
    work = open_job(job, fresh=fresh)
    mass_g = shoes_of(work.job).mass_g  # says what lacks before anything is worked out
    now = today(work, None if plan is None else Path(plan), number)
    source, load_n, sd_n, stacks = "the job's target loads", work.task.target_n, None, None
    more: tuple[str, ...] = ()
    if now is not None:
        source, load_n, sd_n, stacks = now.source, now.load_n, now.sd_n, now.stacks
    if loads_n is not None:
        source, (load_n, sd_n) = "the loads given", seen_loads(loads_n, work.job)
    if readings is not None:
        source = str(readings)
        load_n, sd_n, more = read_loads(Path(readings), work.job, work.task, stacks, number)
    if rpm_seen is not None or rpm_hold is not None:
        if sd_n is None:
            raise InputError(
                "Expected the loads with which that speed was seen, found none. Add --plan, "
                "--loads or --readings."
            )
        speed = Speed(rpm_seen, tuple(load_n.tolist()), rpm_sd, rpm_hold)
        work = keep_speed(work, speed, fresh)
        mass_g = shoes_of(work.job).mass_g
    lost = mass_g * LINING_SHARE_PER_MM
    if lining_g_per_mm is not None:
        lost = np.full_like(mass_g, lining_g_per_mm)
    measured = loads_n is not None or readings is not None
    shared = 0.0 if measured or now is None else level_doubt(work)
    file = work.job.engine.torque_file
    curve = None if file is None else read_engine(file)
    found = engage(work.task, work.job, source, load_n, sd_n, stacks, lost, shared, curve)
    notes = work.warnings + remarks(work.job, lining_g_per_mm is None) + more
    return EngagementResult(work, found, notes, curve)


def retarget(
    job: JobLike,
    later_rpm: float | None = None,
    target_rpm: float | None = None,
    plan: str | Path | None = None,
    number: int = 1,
    load_now_n: float | None = None,
    rpm_now: float | None = None,
    fresh: bool = False,
    seed: int = 0,
    limits: Limits | None = None,
    report: Report = quiet,
    catalog: str | Path | None = None,
) -> RetargetResult:
    """Find ways from today's stacks to a later hookup, or to an earlier one below 0.

    Parameters
    ----------
    later_rpm, target_rpm : change of the engagement speed, or the speed itself: one of the two
    plan, number : as in `engagement`
    load_now_n, rpm_now : mean load and engagement speed as seen today, where they were
    catalog : sizes that are sold, of which discs to buy are named

    Raises
    ------
    InputError
        when it takes a plan, a load, a speed or the masses more to know where it stands, and
        for no speed or one that no engine has.
    """
    if (later_rpm is None) == (target_rpm is None):
        raise InputError("Expected later_rpm or target_rpm, got both or neither.")
    sizes = () if catalog is None else read_catalog(Path(catalog)).sizes
    work = open_job(job, fresh=fresh)
    where = today(work, None if plan is None else Path(plan), number)
    work = of_one_set(work, () if where is None else where.discs(work.task))
    seen = None if work.known is None else work.known.speed
    task, now = start(work.task, work.job, where, load_now_n, rpm_now, seen)
    target = target_rpm if target_rpm is not None else now.hookup.mean_rpm + (later_rpm or 0.0)
    if not 50 <= target <= 50_000:
        raise InputError(
            f"Expected an engagement speed from 50 to 50000 rpm, got {target:.6g}: today's is "
            f"{now.hookup.mean_rpm:.0f} rpm. Correct --later."
        )
    spread_n = work.job.target.spread_tolerance_n
    limits = limits or Limits()
    told = load_now_n is not None or rpm_now is not None  # then the level is in no doubt
    now = _on_its_engine(now, work, 0.0 if told else level_doubt(work))
    found = search(task, spread_n, now, target, limits, seed, report, paced(work.job), sizes)
    return RetargetResult(work.job.units, found, work.warnings, work, task)


def _on_its_engine(now: ClutchState, work: Workspace, shared: float) -> ClutchState:
    """Add what the job says of masses, linings and engine; masses as they are on the scales."""
    job, file = work.job, work.job.engine.torque_file
    mass = shoes_of(job).mass_g if has_masses(job) else None
    if mass is not None and work.seen is not None:
        mass = mass / work.seen.pull
    return replace(
        now,
        mass_g=mass,
        linings=linings_of(job),
        curve=None if file is None else read_engine(file),
        shared=shared,
    )
