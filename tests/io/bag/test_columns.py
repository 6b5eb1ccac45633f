import pytest

from optimizer.io.bag.columns import BAG

ALL = ("disc", "od_mm", "id_mm", "thickness_mm", "cone_height_mm", "edge")


@pytest.mark.parametrize(
    "spelling", ["Thickness (mm)", " THICKNESS_MM ", "thickness mm", "thickness [mm]"]
)
def test_case_spaces_and_brackets_do_not_matter(spelling):
    header = BAG.read("line 1", (*ALL[:3], spelling, *ALL[4:]))
    assert header.problems == ()
    assert header.columns["thickness"].index == 3


def test_order_is_free_and_units_may_differ():
    header = BAG.read("line 1", ("edge", "height_in", *ALL[:4]))
    assert header.problems == ()
    assert header.columns["height"].unit == "in"
    assert header.columns["thickness"].unit == "mm"


def test_a_near_miss_is_refused_and_a_stranger_is_not():
    near = BAG.read("line 1", (*ALL, "flat_m"))
    assert "flat_mm" in near.problems[0].remedy
    stranger = BAG.read("line 1", (*ALL, "shelf"))
    assert stranger.problems == ()
    assert len(stranger.warnings) == 1


def test_diameters_may_come_from_the_job():
    without = ("disc", "thickness_mm", "height_mm", "edge")
    assert len(BAG.read("line 1", without).problems) == 2
    assert BAG.read("line 1", without, ("od", "id")).problems == ()
