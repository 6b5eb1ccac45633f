"""What `--why` adds: the numbers that an answer rests on add up to it."""

import re
from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest

from optimizer.clutch.engagement import balanced_load_n, hookup
from optimizer.face.speeds import engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.today import ClutchState
from optimizer.hookup.way import HookupWay
from optimizer.report.hookup_why import retarget_why
from optimizer.report.order_why import order_why, received_why
from tests.report.test_order_page import BEST, NEVER, order
from tests.report.test_received_page import LOT, SHORT
from tests.shell import evenstack

EXAMPLES = Path(__file__).parents[2] / "examples"


def rows(text: str, head: str) -> list[list[str]]:
    """Cells of the rows below a head, up to the next empty line."""
    lines = text.splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith(head))
    body = lines[at + 1 :]
    return [line.split("  ") for line in body[: body.index("") if "" in body else None]]


def numbers(line: list[str]) -> list[float]:
    return [float(n) for n in re.findall(r"[-+]?\d+\.?\d*", "  ".join(line))]


@pytest.mark.parametrize("example", ["kart_mm", "unequal_shoes"])
def test_what_throws_a_shoe_out_is_arms_times_mass_times_radius_times_speed_squared(example):
    engaged = engagement(EXAMPLES / example / "job.toml")
    inch = engaged.work.job.units == "in"
    long, force = (25.4, 4.4482216152605) if inch else (1.0, 1.0)
    told = rows(engaged.why(), "shoe")
    assert len(told) == len(engaged.work.job.shoes)
    for line, rpm in zip(told, engaged.engagement.hookup.touch_rpm, strict=True):
        _, grams, radius, arms, thrown, load, _ = numbers(line)
        pull = arms * grams / 1000 * radius * long / 1000 * (1000 * pi / 30) ** 2
        assert thrown * force == pytest.approx(pull, rel=2e-3)
        assert load == pytest.approx(thrown * (rpm / 1000) ** 2, rel=2e-3)


def test_engage_says_why_only_where_it_is_asked(capsys):
    job = EXAMPLES / "kart_mm" / "job.toml"
    plain = evenstack(capsys, "engage", job).out
    why = evenstack(capsys, "engage", job, "--why").out
    assert why.startswith(plain.rstrip("\n"))
    assert "\nWHY\n" in why.removeprefix(plain.rstrip("\n"))
    assert "no speed was seen yet" in why
    assert max(map(len, why.splitlines())) <= 80


def test_loads_for_another_speed_go_with_its_square():
    pull, load = np.array([0.08, 0.081, 0.079]) / 11, np.array([700.0, 705.0, 698.0])
    then = balanced_load_n(pull, 3300.0)
    one = HookupWay(
        "shims", "other shims", None, (), hookup(pull, then), 0.7, 900.0, -800.0, 12.0, False, 0
    )
    way = Retarget(
        ClutchState(pull, load, None), None, 3300.0, then, 20.0, (one, one), (), None, (), False
    )
    told = retarget_why(way, "mm")
    assert len(rows(told, "shoe")) == 3
    for line in rows(told, "shoe"):
        _, rpm, now, wanted = numbers(line)
        assert wanted == pytest.approx(now * (3300 / rpm) ** 2, rel=1e-3)
    assert [line[0] for line in rows(told, "way")] == ["1", "2"]
    assert max(map(len, told.splitlines())) <= 80


def test_an_order_ends_right_where_it_is_dealt_and_all_sets_are_truly_within():
    one = order(BEST)
    two = (BEST, replace(NEVER, size="V22-125"))
    told = order_why(replace(one, clutches=(replace(one.clutches[0], options=two),)))
    best, never = rows(told, "option")
    shares = [float(n) for n in re.findall(r"([\d.]+)%", "  ".join(best))]
    assert shares == [96.0, 99.9, 99.0, pytest.approx(100 * BEST.confidence.share, abs=0.06)]
    assert "too few" not in "".join(best)
    assert "too few" in "".join(never)


def test_a_delivery_says_how_its_lots_lie_and_what_a_new_order_rests_on():
    told = received_why(SHORT, "mm")
    assert "+0.004 mm" in told
    assert "-0.021 mm" in told
    assert order_why(SHORT.reorder) in told
    assert order_why(order(NEVER)) not in received_why(replace(SHORT, reorder=None), "mm")
    assert LOT.size in told
