"""Bags written for one test: rows of text to a file, and back as a Bag."""

from dataclasses import replace
from pathlib import Path

from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from optimizer.model.bag import Bag, Disc
from optimizer.model.job import DiscDefaults, Job
from tests.io.job.files import job_of

HEADER = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge,flat_mm,lot,note"


def plain_job(folder: Path, **defaults: float) -> Job:
    """Return a job, with defaults for the disc if wanted."""
    return replace(job_of(folder), disc=DiscDefaults(**defaults))


def bag_of(
    folder: Path, *rows: str, header: str = HEADER, name: str = "bag.csv", **defaults
) -> Bag:
    """Write and read a bag."""
    path = folder / name
    path.write_text("\n".join((header, *rows)) + "\n", encoding="utf-8")
    return read_bag(path, plain_job(folder, **defaults))


def complaints(folder: Path, *rows: str, header: str = HEADER, **defaults) -> list[str]:
    """Return what is said about a bag that cannot be read."""
    try:
        bag_of(folder, *rows, header=header, **defaults)
    except InputError as error:
        return [str(problem) for problem in error.problems]
    return []


def as_rows(
    discs: list[Disc], factor: float, separator: str, comma: bool, overall: bool
) -> list[str]:
    """Return the discs as rows in another unit, separator and decimal mark."""

    def shown(value: float) -> str:
        text = f"{value / factor:.9f}"
        return text.replace(".", ",") if comma else text

    return [
        separator.join(
            (
                disc.name,
                shown(disc.od_mm),
                shown(disc.id_mm),
                shown(disc.thickness_mm),
                shown(disc.cone_height_mm + (disc.thickness_mm if overall else 0.0)),
                disc.edge,
                shown(disc.flat_mm) if disc.flat_mm else "",
                disc.lot,
                disc.note,
            )
        )
        for disc in discs
    ]
