"""What was kept of a job can be read again."""

from optimizer.io.job.reader import read_job
from optimizer.io.known_file import read_known, write_known
from optimizer.model.readings import Speed
from tests.bags import seeded_bag
from tests.io.job.files import SMALL


def test_what_is_kept_of_the_largest_travel_is_read_again(tmp_path):
    (tmp_path / "job.toml").write_text(SMALL.replace("1.5", "25.4"))
    job, bag = read_job(tmp_path / "job.toml"), seeded_bag(3, 1)
    write_known(job, bag, (), Speed(3000.0, (1.0, 1.0, 1.0)))
    assert read_known(job, bag)[1] == Speed(3000.0, (1.0, 1.0, 1.0))
