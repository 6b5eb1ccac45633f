"""What an order rests on: how sure each option is, and of what that is made."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.orders.document import ClutchOrder, Order, SizeOption
from optimizer.orders.received import Received
from optimizer.report.order_card import said
from optimizer.report.received_card import off_nominal
from optimizer.wrapping import Block, TextTable, plain


def order_why(order: Order) -> str:
    """Say of what the share of deliveries that end right is made, option by option."""
    return "".join(plain(block) for clutch in order.clutches for block in _clutch(clutch, order))


def received_why(received: Received, units: str) -> str:
    """Say how the lots that came lie about nominal, and what a new order rests on."""
    lots = TextTable(
        ("size", "discs", "thickness", "assumed +-", "cone height", "assumed +-"),
        [
            (
                lot.size,
                str(lot.discs),
                *(off_nominal(mm, units) for mm in (lot.thickness_off_mm, lot.thickness_sd_mm)),
                *(off_nominal(mm, units) for mm in (lot.cone_height_off_mm, lot.cone_height_sd_mm)),
            )
            for lot in received.lots
        ],
        "WHY. Means of the lots off nominal, and the sd with which means of lots were assumed to "
        "scatter.",
    )
    return plain(lots) + ("" if received.reorder is None else order_why(received.reorder))


def _clutch(clutch: ClutchOrder, order: Order) -> Iterator[Block]:
    yield TextTable(
        ("option", "discs", "dealt", "one set", "all sets", "ends right"),
        [_row(option) for option in clutch.options],
        f"WHY {clutch.name.upper()}. Ends right, what was asked in {order.asked:.0%}, is dealt "
        "times all sets. Dealt: deliveries that give every set as measured, within all limits and "
        f"truly on target. All sets: the chance of one set, truly within after the work, "
        f"{clutch.sets} times over.",
    )
    best = clutch.options[0]
    yield (
        f"Of the first, the draws alone leave open: dealt {said(best.dealt)}, ends right "
        f"{said(best.confidence)}; {best.draws} deliveries were drawn, seed {order.seed}."
    )


def _row(option: SizeOption) -> tuple[str, ...]:
    return (
        f"{option.size}, {option.pattern}",
        str(option.enough if option.discs is None else option.discs),
        f"{option.dealt.share:.1%}",
        f"{option.set_chance:.1%}",
        f"{option.matched:.1%}",
        f"{option.confidence.share:.1%}" + ("" if option.does else ", too few"),
    )
