"""The page sees how long work takes: a clock that is turned by hand."""

import re

import pytest

from optimizer.io.documents import read_plan
from optimizer.io.minutes import read_minutes
from tests.page.conftest import ROUND
from tests.page.test_measuring import BAG, DISC, SIZE


class Clock:
    """Seconds that pass when they are told to."""

    def __init__(self, visit):
        self.now = 0.0
        visit.house.pace.clock = lambda: self.now

    def after(self, seconds):
        self.now += seconds


def took(visit):
    return dict(read_minutes(visit.house.folder.root / "job.toml").took)


def test_discs_that_are_put_away_one_after_the_other(kart):
    clock = Clock(kart)
    for name, seconds in (("C01", 0), ("C02", 36), ("C03", 30)):
        clock.after(seconds)
        kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": name})
    tool = "micrometer"  # as fine as the job of the example declares its instrument
    assert took(kart) == {tool: pytest.approx((0.6, 0.5))}
    clock.after(60)
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "C04", "thickness": "9.05"})
    assert len(took(kart)[tool]) == 2  # a slip is not put away
    clock.after(2 * 3600)
    kart.post(f"{BAG}/add", {**DISC, **SIZE, "disc": "C04"})
    assert len(took(kart)[tool]) == 2  # nor is a night a measurement


def test_readings_of_a_round_and_a_move(shop):
    visit, _ = shop
    clock = Clock(visit)
    for shoe, (first, settled) in ROUND.items():
        for kind, load in (("first", first), ("settled", settled)):
            clock.after(24)
            visit.read("match-1", 1, shoe, kind, load)
    assert took(visit) == {"reading": pytest.approx((0.8, 0.8))}
    visit.get("/c/this/p/match-1/1/gauge")
    steps = re.findall(r'data-part="(step \d+)"', visit.answer.text)
    assert steps
    moved = int(re.search(r"(\d+) discs? moves?", visit.words)[1])
    clock.after(180)
    for step in dict.fromkeys(steps):
        visit.post("/c/this/p/match-1/1/tick-move", {"part": step, "on": "1"})
        assert visit.answer.status_code == 200, visit.words
    assert took(visit)["exchange"] == pytest.approx((3.0 / moved,), abs=1e-3)


def test_a_stack_that_is_ticked_as_it_is_built(shop):
    visit, folder = shop
    clock = Clock(visit)
    stack = read_plan(folder / "match-1" / "plan.json").sets[0].stacks[0]
    parts = [f"shim {k}" for k, _ in enumerate(stack.shims_mm, 1)]
    parts += [disc for packet in stack.packets for disc in packet]
    for part in parts:
        clock.after(20)
        visit.post("/c/this/p/match-1/1/tick", {"shoe": 1, "part": part, "on": "1"})
    assert took(visit) == {"build": pytest.approx((len(parts) / 3,), abs=1e-3)}
