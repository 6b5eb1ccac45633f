"""The page of a spring order: read strictly, on a phone, and on paper."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from optimizer.orders.clutch import BenchWork
from optimizer.orders.document import (
    SCHEMA,
    BuyingPlan,
    ClutchOrder,
    CurvePoint,
    JointOrder,
    Order,
    OrderLine,
    ProposedChange,
    SizeOption,
    Use,
)
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.quantity import Proportion
from optimizer.orders.steps import Steps
from optimizer.report.order_page import curve_chart, order_page
from optimizer.report.two_ways import two_ways
from tests.browser import needs_browser
from tests.report.browser import DARK, pages_of, printed, probed, type_sizes
from tests.report.html_checks import read_html

DAY = date(2026, 4, 1)
DRAWS = 1000


def point(packs: int, good: int) -> CurvePoint:
    return CurvePoint(10 * packs, 6.5 * packs, Proportion.of(good, DRAWS))


CURVE = tuple(point(27 + k, 820 + 7 * k) for k in range(24))
CHOSEN = next(p for p in CURVE if p.confidence.share >= 0.95)
BEST = SizeOption(
    "V18-100", "7 singles + 1 pair", 9, 889.9, 0.52, 900.0, 12.2, 0.1, 0.4, DRAWS,
    (OrderLine("V18-100", CHOSEN.discs // 10, 10, CHOSEN.discs, 24, CHOSEN.cost),),
    CHOSEN.discs, 24, 154, CHOSEN.cost, 5.0, CHOSEN.discs, CHOSEN.confidence,
    Proportion.of(960, DRAWS), 0.999, 0.99, Proportion.of(890, DRAWS), Proportion.of(900, DRAWS),
    6.3, CURVE,
    Steps(10, 0.1, Proportion.of(960, DRAWS), Proportion.of(950, 960), 300.0, 600, 210.0),
    at_once=BuyingPlan(190.0, 5.0, 300.0, CHOSEN.confidence),
    sampled=BuyingPlan(210.0, 10.2, 311.0, Proportion.of(950, 960)),
)  # fmt: skip
NEVER = replace(
    BEST, size="V22-125 with a long <name> of its own", lines=(), discs=None, left_discs=None,
    cost=None, lead_days=None, shim_mm=0.0, shimmed=0.0,
)  # fmt: skip


def order(*options: SizeOption, joint: JointOrder | None = None) -> Order:
    return Order(
        SCHEMA, "0.1.0", "mm", "invented.csv", "EUR", 0.95, None, 0, DRAWS, 0, Manufacture(),
        tuple(ClutchOrder(f"clutch {k}", 10, 3, 890.0, 22.0, 9.0, BenchWork(), (one, NEVER, BEST),
                          () if one.does else (MEND,))
              for k, one in enumerate(options)),
        joint, ("A note & a warning.",),
    )  # fmt: skip


MEND = ProposedChange(
    ("a load tolerance of 30 N", "shims"), CHOSEN.confidence, 26.0,
    (OrderLine("V18-100", 4, 10, 40, 0, 26.0),),
)  # fmt: skip
JOINT = JointOrder(
    (OrderLine("V18-100", 8, 50, 400, 24, 152.0), OrderLine("V22-125", 2, 40, 80, 0, 55.0)),
    (Use("clutch 0", "V18-100", "7 singles + 1 pair", 10, 270),),
    207.0, Proportion.of(960, DRAWS), 154,
)  # fmt: skip


def test_the_page_says_what_to_buy_what_is_left_how_sure_and_what_next():
    page = order_page(order(BEST), DAY)
    root, faults = read_html(page)
    assert faults == []
    assert not re.search(r"(?:src|href)=\"(?!#)|url\(|https?:", page)
    words = " ".join(root.words().split())
    for said in (
        f"{CHOSEN.discs // 10} packs of 10 of V18-100",
        f"{CHOSEN.cost:.2f} EUR",
        "154 discs",
        "asked 95 %",
        "95 % interval of 1000 simulated deliveries",
        "on shims of 0.100 mm",
        "A sample first: 10 discs",
        "in 10 days instead of 5",
        "after up to 3 rounds of gauge and swap: one set does in 99.9%, all 10 in 99.0%",
        "What to do next",
        "evenstack order JOB --received BAG --plan OUT/order.json",
        "Stored energy.",
        "A note & a warning.",
    ):
        assert said in words


def test_both_ways_to_buy_stand_side_by_side_to_one_scale():
    drawn = two_ways(BEST, 0.95, "EUR")
    assert [pair.bars[0].said for pair in drawn.pairs[:3]] == ["190.00 EUR", "5", "300"]
    assert [pair.bars[1].said for pair in drawn.pairs[:3]] == ["210.00 EUR", "10", "311"]
    for pair, ratio in zip(drawn.pairs, (190 / 210, 5 / 10.2, 300 / 311), strict=False):
        assert pair.bars[0].length == pytest.approx(ratio * pair.bars[1].length)
    chance = drawn.pairs[3]
    full = chance.bars[1].length / (950 / 960)
    assert chance.bars[0].length == pytest.approx(full * CHOSEN.confidence.share)
    assert chance.asked - chance.bars[1].band[0] < full * 0.01
    page = order_page(order(BEST), DAY)
    assert "All at once, or a sample first" in page
    bare = replace(BEST, at_once=replace(BEST.at_once, cost=None, days=None))
    assert [p.name[:5] for p in two_ways(bare, 0.95, "").pairs] == ["Bench", "All s"]
    assert two_ways(replace(BEST, sampled=None), 0.95, "EUR") is None


def test_two_steps_are_left_out_where_the_lot_does_not_rule():
    sure = replace(BEST, blind=Proportion.of(960, DRAWS))
    assert "A sample first" not in order_page(order(sure), DAY)


def test_where_no_quantity_does_nothing_is_marked():
    page = order_page(order(NEVER), DAY)
    assert read_html(page)[1] == []
    assert "No quantity does" in page
    assert "a load tolerance of 30 N and shims: 4 packs of 10 of V18-100 for 26.00 EUR" in page
    assert curve_chart(order(NEVER).clutches[0], 0.95).chosen is None


def test_the_chart_shows_the_curve_inside_its_interval_and_the_quantity_on_it():
    chart = curve_chart(order(BEST).clutches[0], 0.95)
    line = [tuple(map(float, p.split())) for p in chart.line[1:].split("L")]
    band = [tuple(map(float, p.split())) for p in chart.band[1:-1].split("L")]
    assert len(line) == len(CURVE)
    for (x, y), high, low in zip(line, band[: len(line)], band[: len(line) - 1 : -1], strict=True):
        assert x == high[0] == low[0]
        assert high[1] < y < low[1]  # down the page is less
    x, y, name = chart.chosen
    assert name == f"buy {CHOSEN.discs}"
    at = CURVE.index(CHOSEN)
    assert (x, y) == pytest.approx(line[at], abs=0.01)
    assert y <= chart.asked[0] < line[at - 1][1]
    x, y, name = chart.sample  # 300 discs on average, 950 of 960 lots that suit
    assert name == "sample first"
    assert line[CURVE.index(point(30, 841))][0] == pytest.approx(x, abs=0.01)
    assert y < chart.asked[0]


@needs_browser
def test_it_fits_a_phone_and_is_readable_in_light_and_dark(browser):
    page = order_page(order(BEST, NEVER, joint=JOINT), DAY)
    for report in probed(browser, [page, page.replace(DARK, "@media all"), page]):
        assert report["scroll"] <= report["client"]
        assert report["outside"] == []
        assert report["clipped"] == []
        assert report["faint"] == []


@needs_browser
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("options", [(BEST,), (BEST, NEVER)])
def test_it_prints_on_two_pages(browser, paper, options):
    data = printed(browser, order_page(order(*options), DAY), paper)
    assert pages_of(data) <= 2
    assert min(map(min, type_sizes(data))) >= 6.8 - 0.02  # as small as what it rests on elsewhere
