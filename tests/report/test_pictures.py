from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.colors import to_rgba

from optimizer.clutch.drift import Drift, Tolerance
from optimizer.clutch.engagement import hookup
from optimizer.clutch.engine import Torque
from optimizer.clutch.running import Running
from optimizer.errors import InputError
from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import ClutchState, Retarget
from optimizer.hookup.way import HookupWay
from optimizer.io.bag.checks import bag_warnings
from optimizer.match.one_stack import one_stack
from optimizer.match.result import exact
from optimizer.match.workspace import Workspace
from optimizer.model.bag import Bag
from optimizer.report.pictures import BAND, bag_picture, picture, stack_picture
from optimizer.report.speed_pictures import engagement_picture, retarget_picture
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
    return Workspace(work.job, Bag(work.bag.path, discs, warnings), work.belief, work.task)


@cache
def drawn_bag():
    return picture(bag_picture(outlying_bag()), SVG)


def test_the_bag_shows_both_edges_iso_loads_and_names_the_outlier():
    work = outlying_bag()
    said = words(drawn_bag())
    sharp = sum(d.edge == "sharp" for d in work.bag.discs)
    for count in (f"{len(work.bag.discs) - sharp} dressed", f"{sharp} sharp"):
        assert any(f"bag.csv: {count} discs" in word for word in said)
    assert "$D_1$" in said
    off = np.abs(work.belief.cone_height_mm - [d.cone_height_mm for d in work.bag.discs])
    furthest = work.bag.discs[off.argmax()].name
    names = {d.name for d in work.bag.discs}
    assert {word for word in said if word in names} == {"$D_1$", furthest}
    assert sum(word.endswith(" N") for word in said) >= 3
    assert {"Thickness, mm", "Cone height, mm"} <= set(said)


def test_the_same_bag_gives_the_same_bytes():
    assert picture(bag_picture(outlying_bag()), SVG) == drawn_bag()


def test_one_stack_is_drawn_with_its_three_loads():
    _, work = dealt()
    stack = (("D01", "D02"), ("D03",), ("D04",), ("D05",), ("D06",), ("D07",), ("D08",))
    one = one_stack(work, stack, (), 1)
    said = words(picture(stack_picture(one, work.job), SVG))
    assert f"at the travel: {one.working_load_n:.1f} N" in said
    assert f"worn: {one.worn_load_n:.1f} N" in said
    assert "target" in said


PULL = np.full(3, 0.0072)
RPM = np.array([3000.0, 4000.0, 5000.0])
SHOE_NM = np.array([[0.0, 0.0, 0.0], [8.0, 9.0, 10.0], [20.0, 21.0, 22.0]])


def engaged(sd_n, **more):
    """An engagement of invented numbers."""
    how = hookup(PULL, np.array([880.0, 890.0, 905.0]), sd_n)
    tolerance = Tolerance(how.mean_rpm, 28.0, 17.0)
    known = {"torque": None, "drifts": (), **more}
    nothing = dict.fromkeys([field.name for field in fields(Engagement)])
    return Engagement(
        **nothing
        | known
        | {"source": "invented", "pull_kgm": PULL, "hookup": how, "tolerance": tolerance}
        | {"running": Running(), "bare_rpm": how.mean_rpm}
    )


def test_shoes_are_points_on_a_scale_fine_enough_to_tell_them_apart_and_torque_names_curves():
    now = engaged(np.full(3, 9.0), torque=Torque(RPM, SHOE_NM, SHOE_NM.sum(1), 0 * RPM))
    figure = engagement_picture(now, "in")
    low, high = figure.axes[0].get_xlim()
    sd = now.hookup.touch_sd_rpm
    assert high - low < 1.5 * (now.hookup.band_rpm + 2 * sd.max())
    (strip,) = (p for p in figure.axes[0].patches if p.get_facecolor() == to_rgba(BAND))
    assert strip.get_width() == pytest.approx(now.hookup.band_rpm)
    said = words(picture(figure, SVG))
    assert {f"{rpm:.1f}" for rpm in now.hookup.touch_rpm} <= set(said)
    assert {"all shoes", "shoe 1", "shoe 2", "shoe 3", "Torque, lbf ft"} <= set(said)
    assert any("in nine clutches of ten" in word for word in said)


def test_wear_is_drawn_as_lines_against_the_tolerance_also_where_a_stack_gets_solid():
    now = engaged(None)
    touch = now.hookup.touch_rpm
    amount = np.array([0.1, 0.2, 0.3])
    drum = Drift("drum", "later", amount, touch + 500 * amount[:, None], 0.05, "mean")
    solid = np.where(amount[:, None] > 0.2, np.nan, touch - 400 * amount[:, None])
    seats = Drift("seats", "earlier", amount, solid, 0.05, "mean")
    figure = engagement_picture(engaged(None, drifts=(drum, seats)), "mm")
    _, means, bands = figure.axes
    assert [line.get_ydata()[-1] for line in means.lines[:1]] == pytest.approx([150.0])
    assert np.isnan(means.lines[1].get_ydata()[-1])
    strips = [axes.patches[0] for axes in (means, bands)]
    assert [strip.get_height() for strip in strips] == pytest.approx([56.0, 17.0])
    said = words(picture(figure, SVG))
    assert said.count("drum") == said.count("seats") == 2
    assert {"Wear, mm", "Mean less the one asked for, rpm", "Band, rpm"} <= set(said)


def test_ways_to_another_speed_are_points_beside_the_speed_asked_for():
    plan, work = dealt()
    one = plan.sets[0]
    stacks = work.task.members(stack.packets for stack in one.stacks)
    answer = exact(work.task, stacks, ((),) * 3, 0.0)
    loads, sd = np.array([880.0, 890.0, 905.0]), np.full(3, 9.0)
    now = ClutchState(PULL, loads, None)
    there = hookup(PULL, 1.2 * loads, sd)
    way = HookupWay(
        "rebuild", "build anew", answer, one.stacks, there, 0.7, 900.0, -1500.0,
        12.0, False, 18,
    )  # fmt: skip
    asked = there.mean_rpm + 10
    ways = Retarget(now, None, asked, 1.2 * loads, 17.0, (way,), (), None, (), False)
    said = words(picture(retarget_picture(ways), SVG))
    assert {"today", "asked", "Engagement speed, rpm"} <= set(said)
    means = [ways.now.hookup, way.hookup]
    assert {f"{h.mean_rpm:.0f}, band {h.band_rpm:.1f}" for h in means} <= set(said)


def test_png_is_png_and_nothing_else_is_drawn():
    figure = engagement_picture(engaged(None), "mm")
    assert picture(figure, Path("a.PNG")).startswith(b"\x89PNG")
    with pytest.raises(InputError, match=r"\.svg or \.png, got a\.pdf"):
        picture(figure, Path("a.pdf"))
