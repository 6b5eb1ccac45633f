"""What the buyer does with an order: the next things to do with the hands."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.orders.document import ClutchOrder, Order, OrderLine
from optimizer.orders.response import STOP_AT


def next_steps(order: Order) -> tuple[str, ...]:
    """List what to do next, in order."""
    samples = [step for clutch in order.clutches for step in _in_steps(clutch, order.asked)]
    sets = sum(clutch.sets for clutch in order.clutches)
    if order.joint is None and not all(clutch.options[0].does for clutch in order.clutches):
        return (
            *dict.fromkeys(samples),
            "Do not order yet: no quantity keeps what was asked. Take one of the changes named "
            "above into the job or the options, and plan again.",
        )
    return (
        *dict.fromkeys(samples),  # once where clutches share a size
        _buy(order),
        "When it comes, give every disc a name and measure its thickness and height; write them "
        "into the bag file. Dress the edges first if you planned flats.",
        "Deal one set of the new discs (evenstack match JOB --out first), press its first stack on "
        "the gauge, in a guided fixture, and type the settled reading into evenstack bench JOB "
        "--plan first/plan.json. It tells how stiff the steel of the lot is.",
        "evenstack order JOB --received BAG --plan OUT/order.json tells what the delivery builds "
        "and what lacks.",
        f"evenstack match JOB --sets {sets if len(order.clutches) == 1 else 'N'} deals the discs "
        "to the shoes.",
        *dict.fromkeys(words for c in order.clutches if (words := _mending(c))),
    )


def to_buy(lines: Sequence[OrderLine]) -> str:
    """Name the packs to buy, those of one size and supplier together."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in lines:
        packs = "1 pack" if line.packs == 1 else f"{line.packs} packs"
        found.setdefault((line.size, line.supplier), []).append(f"{packs} of {line.pack}")
    return " and ".join(
        " and ".join(packs) + f" of {size}" + (f" from {supplier}" if supplier else "")
        for (size, supplier), packs in found.items()
    )


def _buy(order: Order) -> str:
    one_lot = "ask that all packs of a size come from one lot"
    if order.joint is not None:
        return f"Order {to_buy(order.joint.lines)}; {one_lot}."
    bests = [clutch.options[0] for clutch in order.clutches]
    bought = [to_buy(best.lines) for best in bests if best.lines]
    if not bought:
        return "Nothing needs to be ordered: the discs on hand do."
    days = max((best.lead_days or 0.0) for best in bests)
    lead = f" {days:.0f} days before you need them" if days else ""
    return f"Order {' and '.join(bought)}{lead}; {one_lot}."


def _in_steps(clutch: ClutchOrder, asked: float) -> list[str]:
    best = clutch.options[0]
    if not best.in_steps(asked):
        return []
    return [
        f"If the supplier can hold a lot, buy {best.steps.sample_discs} discs of {best.size} as a "
        "sample first and press one stack of it on the gauge; buy the rest of the same lot only "
        "if it suits."
    ]


def _mending(clutch: ClutchOrder) -> str:
    """Say what is done on the bench with every set."""
    work = clutch.work
    if work.groups:
        return (
            f"Gauge groups of {work.groups} discs, which then stay together (evenstack bench "
            f"--groups {work.groups})."
        )
    if not work.rounds:
        return ""
    rounds = "1 round" if work.rounds == 1 else f"up to {work.rounds} rounds"
    return (
        f"Gauge every set in {rounds}, with the swaps that evenstack bench --stop-at {STOP_AT} "
        "names between them; the promise counts on it."
    )
