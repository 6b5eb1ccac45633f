"""What is assumed of a maker is in doubt: what an order does where lots scatter further."""

from __future__ import annotations

from dataclasses import replace

from optimizer.control import Report, quiet
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, more
from optimizer.orders.quantity import NEVER, Proportion

#: deliveries that tell it, and how much further the means of lots scatter
DRAWS, TIMES = 100, 2.0


def if_lots_scatter(
    judged: JudgedCandidate, goal: ConfidenceGoal, report: Report = quiet
) -> Proportion | None:
    """Return the promise of what is bought were the means of lots to scatter `TIMES` as far.

    None where nothing is, or lots are taken not to differ.
    """
    packs, study = judged.does(goal), judged.study
    if packs == NEVER or not study.making.lot_share:
        return None
    making = replace(study.making, lot_share=TIMES * study.making.lot_share)
    wider = JudgedCandidate(replace(study, making=making))
    [found] = more([wider], min(DRAWS, goal.draws), goal, report)
    return found.promise(packs)
