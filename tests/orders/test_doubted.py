"""What becomes of a promise where lots scatter further than was assumed."""

from dataclasses import replace

from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, more
from optimizer.orders.order import if_lots_scatter
from optimizer.orders.study import Study
from tests.orders.cases import study, surely_matched

WISH = ConfidenceGoal(0.7, 60, 0, 1)


def drawn(of: Study) -> JudgedCandidate:
    return more([JudgedCandidate(of)], WISH.draws, WISH)[0]


def test_what_is_bought_does_more_seldom_where_lots_scatter_twice_as_far():
    of = surely_matched(study(2, tolerance_n=18.0))
    judged = drawn(of)
    packs = judged.does(WISH)
    wider = if_lots_scatter(judged, WISH)
    assert wider.share < judged.promise(packs).share
    # it is the promise of the same packs planned for such lots
    planned = drawn(replace(of, making=replace(of.making, lot_share=1.0)))
    assert wider == planned.promise(packs)


def test_nothing_is_said_where_nothing_is_bought_or_lots_do_not_differ():
    of = surely_matched(study(2, tolerance_n=18.0))
    never = replace(of, clutch=replace(of.clutch, load_tolerance_n=0.5))
    assert if_lots_scatter(drawn(never), WISH) is None
    alike = replace(of, making=replace(of.making, lot_share=0.0))
    assert if_lots_scatter(drawn(alike), WISH) is None
