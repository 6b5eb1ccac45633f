import pytest

from optimizer.io.bag.columns import read_header
from optimizer.model.job import DiscDefaults

ALL = ("disc", "od_mm", "id_mm", "thickness_mm", "cone_height_mm", "edge")


@pytest.mark.parametrize(
    "spelling", ["Thickness (mm)", " THICKNESS_MM ", "thickness mm", "thickness [mm]"]
)
def test_case_spaces_and_brackets_do_not_matter(spelling):
    header = read_header("line 1", (*ALL[:3], spelling, *ALL[4:]), DiscDefaults())
    assert header.problems == ()
    assert header.columns["thickness"].index == 3


def test_order_is_free_and_units_may_differ():
    header = read_header("line 1", ("edge", "height_in", *ALL[:4]), DiscDefaults())
    assert header.problems == ()
    assert header.columns["height"].unit == "in"
    assert header.columns["thickness"].unit == "mm"


def test_a_near_miss_is_refused_and_a_stranger_is_not():
    near = read_header("line 1", (*ALL, "flat_m"), DiscDefaults())
    assert "flat_mm" in near.problems[0].remedy
    stranger = read_header("line 1", (*ALL, "shelf"), DiscDefaults())
    assert stranger.problems == ()
    assert len(stranger.warnings) == 1


def test_diameters_may_come_from_the_job():
    without = ("disc", "thickness_mm", "height_mm", "edge")
    assert len(read_header("line 1", without, DiscDefaults()).problems) == 2
    assert read_header("line 1", without, DiscDefaults(od_mm=20, id_mm=10)).problems == ()
