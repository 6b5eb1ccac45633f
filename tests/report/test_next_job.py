"""What a bench taught goes into the next job in the units and under the keys of this one."""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer.estimate.learn import learn
from optimizer.io.job.reader import read_job
from optimizer.match.workspace import measured
from optimizer.model.bag import Repeats
from optimizer.model.readings import Reading
from optimizer.report.next_job import FIRM, next_job_words

EXAMPLES = Path(__file__).parents[2] / "examples"
AS_DECLARED = (1.0,) * 4


def told(example, factors, readings=FIRM, **gauge):
    """What is said of factors learned from so many readings of a bag measured once."""
    work = measured(EXAMPLES / example / "job.toml")
    once = replace(work.bag, thickness_repeats=Repeats(), height_repeats=Repeats())
    job = replace(work.job, gauge=replace(work.job.gauge, **gauge))
    stack = tuple((disc.name,) for disc in work.bag.discs[:9])
    rows = [Reading(k, 1, stack, "settled", 890.0) for k in range(1, readings + 1)]
    learned = replace(learn(work.task, rows, (0.0,) * 3), factors=np.array(factors))
    return next_job_words(replace(work, bag=once, job=job), learned)


def written(words):
    """The tables that a job file would hold with what is said."""
    tables = (each.removeprefix("under ") for each in words.split("write ")[1].split("; "))
    lines = (each.replace("] ", "]\n", 1).replace(", ", "\n") for each in tables)
    return tomllib.loads("\n".join(lines))


def test_nothing_is_said_where_all_is_as_declared():
    assert told("kart_mm", AS_DECLARED) == ""
    assert told("kart_mm", (1.2, 0.8, 1.0, 1.25)) == ""


def test_nothing_is_said_of_what_luck_may_do_in_few_readings():
    assert told("kart_mm", (2.0, 2.0, 2.0, 2.0), readings=FIRM - 1) == ""
    assert told("kart_mm", (2.0, 2.0, 2.0, 2.0)) != ""


@pytest.mark.parametrize(("example", "unit"), [("kart_mm", "mm"), ("bench_in", "in")])
def test_what_is_said_can_be_written_into_a_job_and_is_the_sd_times_its_factor(example, unit):
    job = read_job(EXAMPLES / example / "job.toml")
    values = written(told(example, (2.0, 1.0, 0.5, 3.0)))
    mm = 25.4 if unit == "in" else 1.0
    assert values["instrument"].keys() == {f"thickness_sd_{unit}", f"height_sd_{unit}"}
    thickness = values["instrument"][f"thickness_sd_{unit}"] * mm
    assert thickness == pytest.approx(2 * job.instrument.thickness_sd_mm, rel=0.05)
    assert values["model"]["sharp_scatter"] == pytest.approx(0.5 * job.model.sharp_scatter)
    stop = values["gauge"][f"travel_stop_{unit}"] * mm
    assert stop == pytest.approx(3 * job.gauge.travel_stop_mm, rel=0.05)


def test_an_sd_that_is_nought_is_not_said():
    assert "travel_stop" not in told("kart_mm", (1.0, 1.0, 1.0, 2.0), travel_stop_mm=0.0)
