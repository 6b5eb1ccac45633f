from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from optimizer.clutch.torque import Torque
from optimizer.errors import InputError
from optimizer.io.bag.checks import bag_warnings
from optimizer.match.one_stack import one_stack
from optimizer.match.workspace import Workspace
from optimizer.model.bag import Bag
from optimizer.report.pictures import bag_picture, picture, stack_picture, torque_picture
from optimizer.report.speed_pictures import retarget_picture
from tests.hookup.hookups import found
from tests.report.plans import dealt

SVG = Path("picture.svg")


def words(svg):
    return [e.text for e in ElementTree.fromstring(svg).iter() if e.tag.endswith("}text")]


def outlying_bag():
    """The dealt bag with one disc far off, under a name that is no mathematics."""
    _, work = dealt()
    odd = replace(work.bag.discs[0], name="$D_1$", thickness_mm=1.2, line=2)
    discs = (odd, *work.bag.discs[1:])
    warnings = tuple(bag_warnings("bag.csv", discs, work.job.instrument, "mm"))
    return Workspace(work.job, Bag(work.bag.path, discs, "mm", warnings), work.belief, work.task)


def test_the_bag_shows_both_edges_iso_loads_and_names_the_outlier():
    work = outlying_bag()
    said = words(picture(bag_picture(work), SVG))
    sharp = sum(d.edge == "sharp" for d in work.bag.discs)
    assert f"sharp ({sharp})" in said
    assert f"dressed ({len(work.bag.discs) - sharp})" in said
    assert "$D_1$" in said
    assert "D05" not in said
    assert sum(word.endswith(" N") for word in said) >= 3
    assert {"Thickness, mm", "Cone height, mm"} <= set(said)


def test_the_same_bag_gives_the_same_bytes():
    work = outlying_bag()
    assert picture(bag_picture(work), SVG) == picture(bag_picture(work), SVG)


def test_one_stack_is_drawn_with_its_three_loads():
    _, work = dealt()
    one = one_stack(work, ((0, 1), (2,), (3,), (4,), (5,), (6,), (7,)), (), 1)
    said = words(picture(stack_picture(one, work.job), SVG))
    assert f"at the travel: {one.working_load_n:.1f} N" in said
    assert f"worn: {one.worn_load_n:.1f} N" in said
    assert "target" in said


def test_torque_names_every_curve():
    rpm = np.array([3000.0, 4000.0, 5000.0])
    shoe = np.array([[0.0, 0.0, 0.0], [8.0, 9.0, 10.0], [20.0, 21.0, 22.0]])
    said = words(
        picture(torque_picture(Torque(rpm, shoe, shoe.sum(1), 0 * shoe, 0 * rpm), "in"), SVG)
    )
    assert {"all shoes", "shoe 1", "shoe 2", "shoe 3", "Torque, lbf ft"} <= set(said)


def test_ways_to_another_speed_are_points_beside_the_speed_asked_for():
    ways = found(300.0)
    said = words(picture(retarget_picture(ways), SVG))
    assert {"today", "asked", "Engagement speed, rpm"} <= set(said)
    means = [ways.now.hookup, *(way.hookup for way in ways.ways)]
    assert {f"{h.mean_rpm:.0f}, band {h.band_rpm:.1f}" for h in means} <= set(said)


def test_png_is_png_and_nothing_else_is_drawn():
    one, two = np.ones((2, 1)), np.array([1.0, 2.0])
    figure = torque_picture(Torque(two, one, two, one, two), "mm")
    assert picture(figure, Path("a.PNG")).startswith(b"\x89PNG")
    with pytest.raises(InputError, match=r"\.svg or \.png, got a\.pdf"):
        picture(figure, Path("a.pdf"))
