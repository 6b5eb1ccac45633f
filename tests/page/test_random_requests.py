"""Random requests: none is answered by a fault, none writes outside the folder."""

import random
import shutil

from tests.page.conftest import EXAMPLES
from tests.page.random_requests import play

REQUESTS = 90


def test_no_random_request_is_a_fault(read_once, tmp_path):
    folder = tmp_path / "in" / "kart"
    shutil.copytree(read_once, folder)
    told = play(folder, random.Random(7), REQUESTS, read_once)
    assert told[200] > REQUESTS / 5  # and pages are reached
    assert {p.name for p in (tmp_path / "in").iterdir()} == {"kart"}
    assert {p.name for p in tmp_path.iterdir()} == {"in"}


def test_the_examples_are_as_they_were():
    assert {p.name for p in (EXAMPLES / "kart_mm").iterdir()} == {"bag.csv", "job.toml"}
