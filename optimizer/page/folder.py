"""What lies in the folder that is served: clutches, their bags and plans.

Nothing that a browser says is ever made into a path: names are looked up in what was found.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from optimizer.errors import InputError

#: name of the clutch of the folder itself
THIS = "this"
JOB = "job.toml"
#: clutches that are listed
MOST_CLUTCHES = 200


@dataclass(frozen=True)
class ClutchFolder:
    """One job file and the folder around it; `name` is the one in addresses."""

    name: str
    title: str
    job: Path

    @property
    def folder(self) -> Path:
        """Where its bag, plans and readings lie."""
        return self.job.parent

    @property
    def url(self) -> str:
        """Where its pages begin."""
        return f"/c/{quote(self.name)}"


@dataclass(frozen=True)
class Folder:
    """The folder that is served; `job` where one file of it was named."""

    root: Path
    job: Path | None = None

    @staticmethod
    def of(path: Path) -> Folder:
        """Take a folder or a job file.

        Raises
        ------
        InputError
            when there is no such folder.
        """
        if path.is_dir():
            return Folder(path.resolve())
        if path.is_file():
            return Folder(path.resolve().parent, path.resolve())
        raise InputError(
            "Expected a folder, found none.",
            str(path),
            "Make one with `evenstack init FOLDER`, or leave the folder out.",
        )

    def clutches(self) -> dict[str, ClutchFolder]:
        """Return the clutches by name: that of the folder itself, else those one level below."""
        own = self.job or _job_in(self.root)
        if own is not None:
            return {THIS: ClutchFolder(THIS, self.root.name, own)}
        below = sorted(self.root.iterdir())[:MOST_CLUTCHES] if self.root.is_dir() else []
        found = {}
        for place in below:
            if place.name.startswith(".") or not place.is_dir() or not self.holds(place):
                continue
            job = _job_in(place)
            if job is not None:
                found[place.name] = ClutchFolder(place.name, place.name, job)
        return found

    def holds(self, path: Path) -> bool:
        """Whether a path lies in the folder, links followed."""
        return path.resolve().is_relative_to(self.root)

    def clutch(self, name: str) -> ClutchFolder:
        """Return a clutch by its name in an address.

        Raises
        ------
        InputError
            when there is none.
        """
        found = self.clutches().get(name)
        if found is None:
            raise InputError("There is no such clutch in this folder.")
        return found


def _job_in(place: Path) -> Path | None:
    """Return the job file of a folder: job.toml, else the only one."""
    usual = place / JOB
    if usual.is_file():
        return usual
    jobs = [p for p in place.glob("*.toml") if p.is_file() and p.name != "pyproject.toml"]
    return jobs[0] if len(jobs) == 1 else None


def files_in(clutch: ClutchFolder, pattern: str) -> list[Path]:
    """Return the files of a clutch that are called so, without links that lead out of it."""
    inside = clutch.folder.resolve()
    found = clutch.folder.glob(pattern)
    return [path for path in found if path.is_file() and path.resolve().is_relative_to(inside)]


def plans(clutch: ClutchFolder) -> dict[str, Path]:
    """Return the plans of a clutch by the name of their folder, newest last."""
    found = [p for p in files_in(clutch, "*/plan.json") if not p.parent.name.startswith(".")]
    found.sort(key=lambda plan: (plan.stat().st_mtime, _natural(plan.parent.name)))
    return {plan.parent.name: plan for plan in found}


def plan_file(clutch: ClutchFolder, name: str) -> Path:
    """Return a plan by the name of its folder in an address.

    Raises
    ------
    InputError
        when there is none.
    """
    found = plans(clutch).get(name)
    if found is None:
        raise InputError("There is no such plan in this folder.")
    return found


def known_file(job: Path) -> Path:
    """Return where what the gauge taught is kept, of a job that need not be readable."""
    return job.with_suffix(".known.json")


def _natural(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", name)]


def new_clutch_folder(folder: Folder, name: str) -> Path:
    """Return the path of a folder to be made for a new clutch; its name is typed in a browser.

    Raises
    ------
    InputError
        where the name is not a plain one, or is taken.
    """
    plain = name.strip()
    if not re.fullmatch(r"[\w-][\w .-]{0,59}", plain) or plain.endswith(".") or plain == THIS:
        raise InputError(
            "Expected a name of letters, digits, spaces, - and _ for the folder, got another.",
            "",
            "Type a short plain name, like kart-2.",
        )
    place = folder.root / plain
    if place.exists() or not folder.holds(place):
        raise InputError(f"{plain} is already there.", "", "Choose another name.")
    return place
