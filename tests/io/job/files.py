"""A small job file to change one thing in."""

from pathlib import Path

from optimizer.errors import InputError
from optimizer.io.job.reader import read_job
from optimizer.model.job import Job

SMALL = """\
[bag]
file = "bag.csv"
[clutch]
travel_mm = 1.5
[datum]
seating_load_n = 27
[target]
load_n = 890
"""


def job_of(folder: Path, text: str = SMALL) -> Job:
    """Write and read a job."""
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_job(path)


def complaints(folder: Path, text: str) -> list[str]:
    """Return what is said about a job that cannot be read."""
    try:
        job_of(folder, text)
    except InputError as error:
        return [str(problem) for problem in error.problems]
    return []
