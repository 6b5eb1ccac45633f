"""The page of a delivery: the decision first, what lacks, and the lot against what was assumed."""

from __future__ import annotations

from dataclasses import replace

from optimizer.orders.received import ExpectedLot, LotMean, Received
from optimizer.report.received_page import lot_strips, received_page
from tests.browser import needs_browser
from tests.report.browser import DARK, pages_of, printed, probed
from tests.report.html_checks import read_html
from tests.report.test_order_page import BEST, DAY, NEVER, order

LOT = LotMean("V18-100", 270, 0.004, 0.0045, -0.021, 0.0088)
SHORT = Received(
    270, 10, 6, 7, "7 singles + 1 pair", 0.1, (LOT,), (), None,
    (ExpectedLot("V18-100", 27, 270, 258),), order(BEST),
)  # fmt: skip
NONE = replace(SHORT, buildable_sets=0, reasons=("Too few discs: 3 more are <missing>.",))


def words_of(received):
    root, faults = read_html(received_page(received, "mm", DAY))
    assert faults == []
    return root, " ".join(root.words().split())


def test_the_first_line_is_what_to_do():
    enough = replace(SHORT, buildable_sets=10, reorder=None)
    for received, word, rest in (
        (SHORT, "BUILD", "6 sets of 10 now; reorder"),
        (NONE, "REORDER", "no set of 10 can be built yet"),
        (enough, "BUILD", "10 sets: nothing lacks"),
        (replace(SHORT, reorder=order(NEVER)), "BUILD", "no quantity keeps"),
    ):
        root, words = words_of(received)
        first = root.all("section")[0].all("p")[0]
        assert first.all("b")[0].words() == word
        assert rest in words
        assert "Stored energy." in words


def test_it_says_what_is_built_what_lacks_and_why():
    _, words = words_of(NONE)
    for said in ("Too few discs: 3 more are <missing>.", "270", "258", "What to do next"):
        assert said in words
    _, words = words_of(SHORT)
    assert "evenstack match JOB --sets 6" in words


def test_a_lot_is_drawn_against_what_was_assumed():
    thickness, cone = lot_strips(LOT, "mm")
    assert thickness.low < thickness.nominal < thickness.dot < thickness.high
    assert not thickness.unusual
    assert cone.dot < cone.low
    assert cone.unusual
    assert "not as assumed" in cone.said


@needs_browser
def test_it_fits_a_phone_and_prints_on_two_pages(browser):
    page = received_page(SHORT, "mm", DAY)
    for report in probed(browser, [page, page.replace(DARK, "@media all"), page]):
        assert report["scroll"] <= report["client"]
        assert report["outside"] == report["clipped"] == report["faint"] == []
    for paper in ("A4", "letter"):
        assert pages_of(printed(browser, page, paper)) == 2
