"""An order as readable text of at most 80 columns."""

from __future__ import annotations

from textwrap import wrap

from optimizer import text
from optimizer.orders.document import ClutchOrder, Joint, Option, Order
from optimizer.orders.quantity import Share
from optimizer.orders.received import Received

WIDTH = 78
BAR = 20


def order_card(order: Order) -> str:
    """Write the order: what to buy, how sure, what else would do, and what was assumed."""
    lines = []
    for clutch in order.clutches:
        lines += _clutch(clutch, order)
    if order.joint is not None:
        lines += _joint(order.joint, order)
    lines += ["ASSUMED, NOT MEASURED"]
    lines += _wrapped(_assumed(order))
    lines += _wrapped(
        f"{order.draws} simulated deliveries, seed {order.seed}; shares in brackets are 95 % "
        "intervals of the simulation alone."
    )
    lines += [line for warning in order.warnings for line in _wrapped("Note: " + warning)]
    return "\n".join(lines) + "\n"


def _assumed(order: Order) -> str:
    m = order.making
    flat = f"dressed to flats of {text.length(m.flat_mm, order.units)}" if m.flat_mm else "sharp"
    return (
        f"Makers aim at nominal and keep the nearer limit at {m.limits_at_sd:g} sd; means of "
        f"lots scatter by {m.lot_share:g} of the sd within one, their modulus by "
        f"{m.modulus_sd:.1%}, single discs by {m.disc_stiffness_sd:.1%} in stiffness; edges "
        f"{flat}; all packs come from one lot. One stack goes on the gauge before the sets are "
        "dealt."
    )


def _clutch(clutch: ClutchOrder, order: Order) -> list[str]:
    u = order.units
    best = clutch.options[0]
    lines = [
        f"{clutch.name.upper()}: {clutch.sets} sets of {clutch.shoes} stacks at "
        f"{text.load(clutch.target_n, u)} +- {text.load(clutch.load_tolerance_n, u)}, "
        f"asked {order.asked:.0%}",
        "",
    ]
    if best.packs is None:
        lines += _wrapped(
            f"No quantity reaches {order.asked:.0%}: at most {_share(best.confidence)} with "
            f"{best.curve[-1].packs} packs of {best.size}. Widen the load tolerance, allow other "
            "patterns, or order in two steps (below)."
        )
    else:
        lines += _wrapped(
            f"BUY {best.packs} packs of {best.pack} of {best.size}{_cost(best.cost, order)}: "
            f"{best.discs} discs{_held(best.held)}, {best.left_discs} left over. "
            f"All sets can be built in {_share(best.confidence)} of deliveries."
        )
    lines += [*_details(best, u), "", *_blind(best, order), *_curve(best, order)]
    lines += ["  other ways:"] if len(clutch.options) > 1 else []
    for other in clutch.options[1:]:
        many = "no quantity does" if other.packs is None else f"{other.packs} packs"
        lines += _wrapped(
            f"{other.size}, {other.pattern}: {many}{_cost(other.cost, order)}, "
            f"{_share(other.confidence)}",
            4,
        )
    return [*lines, ""]


def _details(best: Option, u: str) -> list[str]:
    return _wrapped(
        f"Stack: {best.pattern}, nominal {text.load(best.nominal_load_n, u)}, pressed to "
        f"{best.deflection_share:.2f} h, length {text.length(best.length_mm, u)}, sigma_OM "
        f"{best.stress_mpa:.0f} MPa. Expected true spread of a set as first built "
        f"{text.load(best.spread_n, u)}; the bench mends that, more discs do not."
    )


def _blind(best: Option, order: Order) -> list[str]:
    steps = best.steps
    lines = _wrapped(
        f"Without a gauge the same packs do in {_share(best.blind)} of deliveries, and no number "
        f"in more than {_share(best.blind_most)}: nobody knows the modulus of a lot."
    )
    if best.blind.share < order.asked or best.packs is None:
        lines += _wrapped(
            f"In two steps: buy {steps.sample_packs} as a sample, put one stack on the gauge; "
            f"{_share(steps.suits)} of lots are worth going on with, and then all sets can be "
            f"built in {_share(steps.confidence)} of deliveries with {steps.mean_packs:.1f} packs "
            f"in all on average, {steps.most_packs} at most, if the rest is of the same lot."
        )
    return [*lines, ""]


def _curve(best: Option, order: Order) -> list[str]:
    head = f"  {'packs':>6} {'discs':>6} {'cost':>10}   share of deliveries that do"
    lines = [head]
    for point in best.curve:
        cost = "" if point.cost is None else f"{point.cost:.2f}"
        bar = "#" * round(BAR * point.confidence.share)
        mark = "<" if point.packs == best.packs else ""
        lines.append(
            f"  {point.packs:>6} {point.discs:>6} {cost:>10}   {bar:<{BAR}} "
            f"{_share(point.confidence)} {mark}".rstrip()
        )
    return [*lines, ""]


def _joint(joint: Joint, order: Order) -> list[str]:
    lines = [f"ALL IN ONE ORDER{_cost(joint.cost, order)}: {_share(joint.confidence)}"]
    for line in joint.lines:
        lines += _wrapped(
            f"{line.packs} packs of {line.size}{_cost(line.cost, order)}: {line.discs} discs"
            f"{_held(line.held)}",
            4,
        )
    for use in joint.uses:
        lines += _wrapped(
            f"{use.sets} sets for {use.clutch}: {use.size}, {use.pattern}, {use.discs} discs", 4
        )
    return [*lines, f"    {joint.left_discs} discs left over", ""]


def received_card(received: Received, units: str) -> str:
    """Write what a received bag can build, and what to order again."""
    lines = _wrapped(
        f"RECEIVED {received.discs} discs: {received.buildable_sets} of {received.wanted_sets} "
        f"sets can be built now (at most {received.buildable_bound})"
        + (f", each stack {received.pattern}." if received.pattern else "."),
    )
    for lot in received.lots:
        lines += _wrapped(
            f"{lot.discs} discs of {lot.size}: thickness {_off(lot.thickness_off_mm, units)}, "
            f"cone height {_off(lot.cone_height_off_mm, units)} off nominal on average",
            4,
        )
    lines += [line for reason in received.reasons for line in _wrapped(reason)]
    if received.reorder is None:
        return "\n".join([*lines, "  Nothing needs to be ordered again."]) + "\n"
    lines += _wrapped(
        f"{received.short_sets} sets short. To build all {received.wanted_sets} with the discs "
        "received and a new lot:"
    )
    return "\n".join([*lines, "", order_card(received.reorder)])


def _off(mm: float, units: str) -> str:
    sign = "+" if mm >= 0 else "-"
    return sign + text.length(abs(mm), units)


def _share(share: Share) -> str:
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def _cost(cost: float | None, order: Order) -> str:
    return "" if cost is None else f" for {cost:.2f} {order.currency}".rstrip()


def _held(held: int) -> str:
    return f" and {held} on hand" if held else ""


def _wrapped(words: str, indent: int = 2) -> list[str]:
    return [" " * indent + line for line in wrap(words, WIDTH - indent)]
