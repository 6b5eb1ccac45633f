"""What was kept of a job can be read again."""

from dataclasses import replace

import pytest

from optimizer.errors import InputError
from optimizer.io.job.reader import read_job
from optimizer.io.known_file import read_known, write_known
from optimizer.model.readings import Reading, Record, Speed
from tests.bags import seeded_bag
from tests.io.job.files import SMALL


def test_what_is_kept_of_the_largest_travel_is_read_again(tmp_path):
    (tmp_path / "job.toml").write_text(SMALL.replace("1.5", "25.4"))
    job, bag = read_job(tmp_path / "job.toml"), seeded_bag(3, 1)
    write_known(job, bag, (), Speed(3000.0, (1.0, 1.0, 1.0)))
    assert read_known(job, bag)[1] == Speed(3000.0, (1.0, 1.0, 1.0))


def test_a_disc_dressed_since_it_was_read_is_told(tmp_path):
    (tmp_path / "job.toml").write_text(SMALL)
    job, bag = read_job(tmp_path / "job.toml"), seeded_bag(3, 1)
    first = replace(bag.discs[0], edge="sharp")
    bag = replace(bag, discs=(first, *bag.discs[1:]))
    stack = ((first.name,),)
    row = Reading(1, 1, stack, "settled", 800.0)
    write_known(job, bag, (Record("readings.csv", (stack,), ((),), False, (row,)),), None)
    now = replace(bag, discs=(replace(first, edge="dressed"), *bag.discs[1:]))
    with pytest.raises(InputError, match="was read on the bench with edge sharp, not dressed"):
        read_known(job, now)
