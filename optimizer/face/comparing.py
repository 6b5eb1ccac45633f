"""Setups side by side: where each takes hold, and what its start does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.clutch.start import Start
from optimizer.errors import InputError
from optimizer.face.result import Result
from optimizer.face.sources import JobLike, open_job
from optimizer.face.speeds import EngagementResult, engagement
from optimizer.hookup.powered import run_start
from optimizer.report.hookup_compare import Setup, compare_card, compare_json
from optimizer.report.hookup_pictures import start_picture
from optimizer.report.pictures import picture

if TYPE_CHECKING:
    import pandas as pd

FEWEST, MOST = 2, 4


@dataclass(frozen=True)
class CompareResult(Result):
    """Two to four setups on one engine; differences are from the first."""

    setups: tuple[Setup, ...]
    units: str
    warnings: tuple[str, ...]
    saved_as = "compare"

    def summary(self) -> str:
        """Say what each setup does, and what the others do differently from the first."""
        return compare_card(self.setups, self.units, self.warnings)

    def why(self) -> str:
        """Say where the reasons of each setup are."""
        return "WHY: `evenstack engage JOB --plan PLAN --why` says it of each setup.\n"

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every setup."""
        import pandas as pd

        return pd.DataFrame([setup.figures() for setup in self.setups])

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return compare_json(self.setups, self.warnings)

    def drawn(self, path: Path) -> bytes:
        """Return the starts in one picture, SVG or PNG by the suffix of `path`."""
        names, runs = [s.name for s in self.setups], [s.start for s in self.setups]
        return picture(start_picture(names, runs, "Starts from rest, side by side"), path)

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return compare.json, compare.txt and compare.svg."""
        path = folder / "compare.svg"
        return {**super().files(folder), path: self.drawn(path)}


def compare(job: JobLike, setups: Sequence[str | Path], fresh: bool = False) -> CompareResult:
    """Compare up to four setups by a start on the engine of the job.

    Parameters
    ----------
    setups : plan files of this job, or job files (.toml) of their own, which stand for the stacks
        that the bench left in that clutch, or else for its target loads

    Raises
    ------
    InputError
        for fewer than two or more than four, and where a setup lacks what a start takes.
    """
    if not FEWEST <= len(setups) <= MOST:
        raise InputError(
            f"Expected {FEWEST} to {MOST} setups to compare, got {len(setups)}. Name plan files, "
            "or job files of other setups, after --compare."
        )
    work = open_job(job, fresh=fresh)
    paths = [Path(one) for one in setups]
    found = [
        engagement(open_job(path, fresh=fresh))
        if path.suffix.lower() == ".toml"
        else engagement(work, path)
        for path in paths
    ]
    made = tuple(_setup(name, one) for name, one in zip(_names(paths), found, strict=True))
    notes = tuple(dict.fromkeys(note for one in found for note in one.warnings))
    return CompareResult(made, work.job.units, notes)


def _setup(name: str, one: EngagementResult) -> Setup:
    now, job = one.engagement, one.work.job
    if one.curve is None or now.powered is None:
        raise InputError(
            f"Expected an engine for a start of {name}, found none in {job.path}. Give [engine] "
            "torque_file, and drum_radius and friction under [clutch]."
        )
    if now.powered.start is None or now.linings is None:
        lacks = ", ".join(now.powered.lacking) or "shoes that do not grab"
        raise InputError(f"Expected {lacks} for a start of {name}, found none.")
    runs: list[Start | None] = []
    for sds in (-1.0, 1.0):  # friction moves all setups alike: its doubt counts in differences
        friction = now.linings.friction + sds * now.linings.friction_sd
        other = replace(now.linings, friction=friction.clip(min=0.01))
        runs.append(run_start(job.engine, one.curve, now.pull_kgm, other, now.hookup.work_n))
    return Setup(name, now, now.powered.start, (runs[0], runs[1]), job.engine.drum_mass_g)


def _names(paths: Sequence[Path]) -> list[str]:
    """Name setups by file, and by folder too where files are called alike."""
    stems = [path.stem for path in paths]
    return [
        path.stem if stems.count(path.stem) == 1 else f"{path.parent.name}/{path.stem}"
        for path in paths
    ]
