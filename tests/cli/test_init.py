import pytest

from optimizer.cli.init import init
from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job


@pytest.mark.parametrize("units", ["mm", "in"])
def test_what_init_writes_reads_back_without_a_warning(tmp_path, units):
    written = init(tmp_path / "new" / "job", units)
    assert [path.name for path in written[:3]] == ["job.toml", "bag.csv", "readings.csv"]
    assert [path.stem for path in written[3:]] == ["bench"]
    job = read_job(written[0])
    bag = read_bag(job.bag_file, job)
    assert job.units == units
    assert bag.warnings == ()
    assert all("invented" in disc.note for disc in bag.discs)


def test_both_units_hold_the_same_discs(tmp_path):
    bags = []
    for units in ("mm", "in"):
        job = read_job(init(tmp_path / units, units)[0])
        bags.append(read_bag(job.bag_file, job).discs)
    for metric, inch in zip(*bags, strict=True):
        assert inch.thickness_mm == pytest.approx(metric.thickness_mm, abs=2e-4)
        assert inch.cone_height_mm == pytest.approx(metric.cone_height_mm, abs=2e-4)


@pytest.mark.parametrize("there", ["job.toml", "bag.csv", "readings.csv"])
def test_nothing_is_overwritten_and_nothing_half_written(tmp_path, there):
    (tmp_path / there).write_text("mine")
    with pytest.raises(InputError, match="not overwritten"):
        init(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


def test_a_file_in_place_of_the_folder_is_refused_in_words(tmp_path):
    (tmp_path / "job").write_text("mine")
    with pytest.raises(InputError, match="cannot write"):
        init(tmp_path / "job")
