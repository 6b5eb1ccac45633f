"""Every bad file gives one readable error: place, value, remedy, and nothing else."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.errors import EvenstackError
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job

HERE = Path(__file__).parent
BAD = tomllib.loads((HERE / "expected.toml").read_text(encoding="utf-8"))["bad"]


def read(file: Path) -> None:
    """Read a bad job with its good bag, or a bad bag with the good job."""
    if file.parent.name == "jobs":
        job = read_job(file)
        read_bag(job.bag_file, job)
    else:
        read_bag(file, replace(read_job(HERE / "good_job.toml"), bag_file=file))


def test_the_good_pair_reads():
    job = read_job(HERE / "good_job.toml")
    assert read_bag(job.bag_file, job).warnings == ()


def test_every_bad_file_is_expected_and_there_are_at_least_sixty():
    there = {f"{file.parent.name}/{file.name}" for file in HERE.glob("*s/*.*")}
    assert there == {bad["file"] for bad in BAD}
    assert len(there) >= 60


@pytest.mark.parametrize("bad", BAD, ids=[bad["file"] for bad in BAD])
def test_bad_file(bad):
    file = HERE / bad["file"]
    with pytest.raises(EvenstackError) as caught:
        read(file)
    message = str(caught.value)
    problems = caught.value.problems
    assert all(problem.what and problem.where and problem.remedy for problem in problems)
    place = f"{file.name} line {bad['line']}" if "line" in bad else ""
    fitting = [
        problem
        for problem in problems
        if str(problem.where).startswith((place, f"{place}, "))
        and all(fragment in str(problem) for fragment in bad["says"])
    ]
    assert fitting, f"expected {place} {bad['says']}, got:\n{message}"
    assert "Traceback" not in message
    assert len(problems) <= 2, f"one mistake, {len(problems)} complaints:\n{message}"
