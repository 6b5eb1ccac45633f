"""`evenstack init`: a job folder to start from."""

from __future__ import annotations

from pathlib import Path

from optimizer.errors import Problem, raise_if
from optimizer.files import write_new
from optimizer.job.model import Units
from optimizer.job.templates import bag_template, job_template, readings_template


def init(directory: Path, units: Units = "mm") -> list[Path]:
    """Write job.toml, bag.csv and readings.csv with commented, invented content.

    Parameters
    ----------
    directory
        Where to write; made when missing.
    units
        "mm" for millimetres and newtons, "in" for inches and pounds-force.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        when any of the files is already there (then none is written), or the folder
        cannot be written.
    """
    contents = {
        directory / "job.toml": job_template(units),
        directory / "bag.csv": bag_template(units),
        directory / "readings.csv": readings_template(units),
    }
    raise_if(
        Problem(
            "The file is already there and is not overwritten.", str(path), "Choose another folder."
        )
        for path in contents
        if path.exists()
    )
    for path, content in contents.items():
        write_new(path, content)
    return list(contents)
