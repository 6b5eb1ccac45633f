"""Jobs and bags, from files or from what a program holds already."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from optimizer.errors import InputError
from optimizer.io.bag.reader import bag_of
from optimizer.io.bag.reader import read_bag as read_bag_file
from optimizer.io.job.reader import read_job as read_job_file
from optimizer.io.table import table_of
from optimizer.match.workspace import Workspace, opened, posed
from optimizer.model.bag import Bag
from optimizer.model.job import Job

if TYPE_CHECKING:
    import pandas as pd

#: what a job may be given as
JobLike = str | Path | Job | Workspace
#: what the discs may be given as
BagLike: TypeAlias = "Bag | str | Path | pd.DataFrame"


def read_job(path: str | Path) -> Job:
    """Read a job file.

    Raises
    ------
    InputError
        with every problem of the file: line, value and remedy.

    Examples
    --------
    >>> read_job("examples/kart_mm/job.toml").target.load_n
    890.0
    """
    return read_job_file(Path(path))


def read_bag(source: BagLike, job: Job) -> Bag:
    """Read the measured discs of a job from a file, or from a table in memory.

    Parameters
    ----------
    source : CSV or XLSX file, or a DataFrame, one row a measurement of a disc, with the columns
        `disc, od_mm, id_mm, thickness_mm, cone_height_mm | height_mm, edge`, and as wanted
        `flat_mm, lot, note`; lengths also with `_in`; a bag is returned as it is
    job : gives default diameters, the default flat and the instrument

    Raises
    ------
    InputError
        with every problem of the table: place, value and remedy.

    Examples
    --------
    >>> job = read_job("examples/kart_mm/job.toml")
    >>> bag = read_bag("examples/kart_mm/bag.csv", job)
    >>> len(bag.discs), bag.discs[0].thickness_mm
    (40, 0.912)
    >>> again = read_bag(bag.to_frame(), job)
    >>> [disc.name for disc in again.discs] == [disc.name for disc in bag.discs]
    True
    """
    if isinstance(source, str | Path):
        return read_bag_file(Path(source), job)
    if isinstance(source, Bag):
        return source
    if not hasattr(source, "columns"):
        raise InputError(
            f"Expected discs as a file, a DataFrame or a bag, got {type(source).__name__}."
        )
    return bag_of(table_of(source, "bag"), Path("DataFrame"), job)


def open_job(job: JobLike, bag: BagLike | None = None, fresh: bool = False) -> Workspace:
    """Open a job with its bag and all that the bench taught of it.

    Parameters
    ----------
    job : a job file, or a job that was read; a workspace is returned as it is
    bag : the discs as `read_bag` takes them, where they are not those of the job's file
    fresh : go by the measurements alone

    Raises
    ------
    InputError
        with everything that is wrong in a file, and where discs, travels or datum are no
        longer those that were read on the bench.
    """
    if isinstance(job, Workspace):
        return job
    if isinstance(job, str | Path):
        job = read_job_file(Path(job))
    if bag is not None:
        return posed(job, read_bag(bag, job))
    return opened(job, read_bag_file(job.bag_file, job), fresh)
