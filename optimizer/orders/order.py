"""Plan an order: which size, which pattern, how many packs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optimizer import __version__
from optimizer.control import Report, quiet
from optimizer.model.catalog import Catalog, Size
from optimizer.orders.choose import StockItem
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.document import SCHEMA, ClutchOrder, JointOrder, Order, Use
from optimizer.orders.joint import JointPart, join
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, judge, more
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.mend import mend
from optimizer.orders.onhand import OnHand, none_on_hand
from optimizer.orders.option import lines_of, option
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


#: options of each clutch that a joint order may be made of
JOINED = 3


def plan_order(
    clutches: Sequence[OrderedClutch],
    catalog: Catalog,
    sizes: tuple[Size, ...],
    making: Manufacture,
    on_hand: dict[str, OnHand],
    goal: ConfidenceGoal,
    units: str,
    warnings: tuple[str, ...] = (),
    report: Report = quiet,
) -> Order:
    """Plan the cheapest order with which every set can be built at the asked confidence.

    Parameters
    ----------
    clutches : what is to be built; discs on hand count for the first
    sizes : the sizes of the catalog that fit
    on_hand : discs on hand by the name of their size

    Raises
    ------
    CannotBuildError
        when no size and pattern reaches a clutch's target within its limits.
    """
    judged, mends, wider = [], [], []
    for at, clutch in enumerate(clutches):
        held = on_hand if at == 0 else {}
        found = judge(clutch, sizes, making, held, goal, report)
        judged.append(found)
        mends.append(mend(found, sizes, held, goal, report))
        wider.append(if_lots_scatter(found[0], goal, report))
    priced = all(j.candidate.size.priced for of_clutch in judged for j in of_clutch)
    return Order(
        schema=SCHEMA,
        version=__version__,
        units=units,
        catalog=catalog.path.name,
        currency=next((s.currency for s in sizes if s.priced), "") if priced else "",
        asked=goal.asked,
        budget=goal.budget,
        spares=goal.spares,
        draws=goal.draws,
        seed=goal.seed,
        making=making,
        clutches=tuple(
            ClutchOrder(
                clutch.name, clutch.sets, clutch.shoes, clutch.target_n, clutch.load_tolerance_n,
                clutch.spread_n, clutch.work,
                tuple(option(j, goal, priced) for j in of_clutch), of_mends, of_wider,
            )
            for clutch, of_clutch, of_mends, of_wider in zip(
                clutches, judged, mends, wider, strict=True
            )
        ),
        joint=_joint(judged, goal, priced, report),
        warnings=(*catalog.warnings, *warnings),
    )  # fmt: skip


def _joint(
    judged: list[list[JudgedCandidate]], goal: ConfidenceGoal, priced: bool, report: Report
) -> JointOrder | None:
    """Order for all clutches at once; None for one clutch, or where none does for all."""
    few = [of_clutch[:JOINED] for of_clutch in judged]
    if len(few) == 1:
        return None
    sizes = list(dict.fromkeys(j.candidate.size for of_clutch in few for j in of_clutch))
    every = [(at, j) for at, of_clutch in enumerate(few) for j in of_clutch]
    parts = tuple(
        JointPart(
            replace(j.study, on_hand=_own(j, sizes)), at, sizes.index(j.candidate.size),
            j.of_set.share,
        )
        for at, j in every
    )  # fmt: skip
    held = {part.lot: len(part.study.on_hand) for part in parts if part.clutch == 0}
    items = tuple(StockItem(size, held.get(at, 0)) for at, size in enumerate(sizes))
    sets = tuple(of_clutch[0].study.clutch.sets for of_clutch in few)
    chosen = join(parts, items, sets, goal, report)
    if chosen is None:
        return None
    uses = tuple(
        Use(
            of.clutch.name, of.candidate.size.name, str(of.candidate.pattern), n,
            of.clutch.discs(of.candidate.pattern, n),
        )
        for of, n in zip((part.study for part in parts), chosen.cart.sets, strict=True)
        if n
    )  # fmt: skip
    return JointOrder(
        lines=lines_of(items, chosen.cart, priced),
        uses=uses,
        cost=chosen.cart.cost if priced else None,
        confidence=chosen.confidence,
        left_discs=sum(chosen.discs) - sum(use.discs for use in uses),
    )


def _own(judged: JudgedCandidate, sizes: list[Size]) -> OnHand:
    """Discs on hand that count for a size: not again for the same one made to other limits."""
    size = judged.candidate.size
    foremost = next(other for other in sizes if other.shape == size.shape)
    return judged.study.on_hand if foremost == size else none_on_hand()
