"""What the buyer does with an order: the next things to do with the hands."""

from __future__ import annotations

from optimizer.orders.document import ClutchOrder, Order


def next_steps(order: Order) -> tuple[str, ...]:
    """List what to do next, in order."""
    samples = [step for clutch in order.clutches for step in _in_steps(clutch, order.asked)]
    sets = sum(clutch.sets for clutch in order.clutches)
    return (
        *dict.fromkeys(samples),  # once where clutches share a size
        _buy(order),
        "When it comes, give every disc a name and measure its thickness and height; write them "
        "into the bag file. Dress the edges first if you planned flats.",
        "Press one stack of the new discs on the gauge, in a guided fixture; enter the settled "
        "reading with evenstack bench. It tells how stiff the steel of the lot is.",
        "evenstack order JOB --received BAG --plan order.json tells what the delivery builds and "
        "what lacks.",
        f"evenstack match JOB --sets {sets if len(order.clutches) == 1 else 'N'} deals the discs "
        "to the shoes.",
    )


def _buy(order: Order) -> str:
    if order.joint is not None:
        packs = " and ".join(f"{line.packs} packs of {line.size}" for line in order.joint.lines)
        return f"Order {packs}; ask that all packs of a size come from one lot."
    bests = [clutch.options[0] for clutch in order.clutches]
    bought = [f"{best.packs} packs of {best.size}" for best in bests if best.packs]
    if any(best.packs is None for best in bests):
        return (
            "No quantity reaches what was asked: widen load_tolerance or allow other patterns in "
            "the job, or order in two steps."
        )
    if not bought:
        return "Nothing needs to be ordered: the discs on hand do."
    days = max((best.lead_days or 0.0) for best in bests)
    lead = f" {days:.0f} days before you need them" if days else ""
    return f"Order {' and '.join(bought)}{lead}; ask that all packs come from one lot."


def _in_steps(clutch: ClutchOrder, asked: float) -> list[str]:
    best = clutch.options[0]
    if not best.in_steps(asked):
        return []
    packs = "1 pack" if best.steps.sample_packs == 1 else f"{best.steps.sample_packs} packs"
    return [
        f"If the supplier can hold a lot, buy {packs} of {best.size} as a sample first and press "
        "one stack of it on the gauge; buy the rest of the same lot only if it suits."
    ]
