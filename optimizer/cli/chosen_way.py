"""The files of one way to another hookup: job, plan and sheet, to go on with on the bench."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from optimizer.errors import InputError
from optimizer.face.speeds import RetargetResult
from optimizer.hookup.way import HookupWay
from optimizer.io.documents import to_json
from optimizer.io.files import write_all_new
from optimizer.io.known_file import known_path
from optimizer.match.plan import plan
from optimizer.match.result import Matched
from optimizer.mechanics.datum import Installed
from optimizer.model.job import Job
from optimizer.page.job_text import key_named, value_of, with_values
from optimizer.report.page import sheet_files
from optimizer.units import TO_INSIDE


def write_way(found: RetargetResult, number: int, out: Path) -> tuple[str, ...]:
    """Write job.toml, plan.json and sheet.html of a way into a folder; return their names.

    The job asks for the new speed, so that the bench goes on towards it, and has the spacer or
    the masses of the way. What the bench knows goes with it where the clutch stays the same.

    Raises
    ------
    InputError
        where there is no such way, the job cannot be changed so, or a file is in the way.
    """
    ways = found.found.numbered
    if number > len(ways):
        raise InputError(f"Expected a way from 1 to {len(ways)}, got {number}. Correct --way.")
    one, work, task = ways[number - 1], found.work, found.task
    job = _job(work.job, one)
    target_n = one.answer.work_n if one.kind == "mass" else found.found.target_n
    asked = replace(task, target_n=target_n)
    if one.spacer_mm is not None:
        room = task.datum.lengths_mm(task.shoes) - one.spacer_mm
        asked = replace(asked, datum=Installed(room))
    made = plan(job, asked, (Matched(one.answer, False, 0.0, None, ()),), found.warnings, 0, None)
    old = known_path(work.job)
    workshop = one.kind in ("spacer", "mass")
    files: dict[Path, str | bytes] = {
        out / "job.toml": _text(found, one, out),
        out / "plan.json": to_json(made),
        **sheet_files(out / "sheet.html", made, replace(work, job=job, task=asked), date.today()),
    }
    if old.exists() and not workshop:
        files[out / "job.known.json"] = old.read_bytes()
    write_all_new(files)
    return tuple(path.name for path in files)


def _job(job: Job, one: HookupWay) -> Job:
    """The job as the way leaves the clutch."""
    if one.spacer_mm is not None and job.datum.installed_length_mm is not None:
        room = job.datum.installed_length_mm - one.spacer_mm
        return replace(job, datum=replace(job.datum, installed_length_mm=room))
    if one.mass_change_g is not None:
        shoes = (
            replace(s, mass_g=None if s.mass_g is None else s.mass_g * one.mass_share)
            for s in job.shoes
        )
        return replace(job, shoes=tuple(shoes))
    return job


def _text(found: RetargetResult, one: HookupWay, out: Path) -> str:
    """The text of the job with what is new of it, and files named from the new folder."""
    job = found.work.job
    text = job.path.read_text(encoding="utf-8")
    before = tomllib.loads(text)
    values: dict[tuple[str, str], tuple[str, str | None]] = {
        ("bag", "file"): ("file", _path(job.bag_file, out))
    }

    def number(section: str, name: str, inside: float) -> None:
        key = key_named(section, name)
        there = value_of(before, section, key)
        spelled = next(iter(key.spellings())) if there is None else there[0]
        value = inside / TO_INSIDE.get(spelled.rpartition("_")[2], 1.0)
        values[section, name] = (spelled, f"{value:.6g}")

    if job.engine.torque_file is not None:
        values["engine", "torque_file"] = ("torque_file", _path(job.engine.torque_file, out))
    if job.target.engagement_rpm is not None:
        number("target", "engagement_rpm", found.found.target_rpm)
    elif one.kind != "mass":
        number("target", "load", float(found.found.target_n.mean()))
    if one.kind in ("spacer", "mass"):  # what the bench knows stays behind: its figures go along
        number("model", "load_factor", job.model.load_factor)
        _shoe_masses(number, before, job, one.mass_share)
    if one.spacer_mm is not None and job.datum.installed_length_mm is not None:
        number("datum", "installed_length", job.datum.installed_length_mm - one.spacer_mm)
    return with_values(text, values)


def _shoe_masses(
    number: Callable[[str, str, float], None], before: dict[str, Any], job: Job, share: float
) -> None:
    """Write masses as the shoes pull, with what a speed seen on the engine taught."""
    masses = {shoe.mass_g for shoe in job.shoes}
    own = any("shoe_mass_g" in table for table in before.get("clutch", {}).get("shoe", []))
    if masses == {None} or (share == 1.0 and own):
        return
    if own or len(masses) > 1:
        raise InputError(
            "Expected shoes of one mass to write a job of this way, got masses of their own under "
            "[[clutch.shoe]]. Write the new masses there by hand, and match or bench with that."
        )
    number("clutch", "shoe_mass", float(next(iter(masses)) or 0.0) * share)


def _path(path: Path, out: Path) -> str:
    try:
        named = os.path.relpath(path.resolve(), out.resolve())
    except ValueError:  # another drive
        named = str(path.resolve())
    return '"' + named.replace("\\", "/") + '"'
