"""An order as readable text of at most 80 columns."""

from __future__ import annotations

from optimizer import text, wrapping
from optimizer.orders.document import ClutchOrder, Joint, Option, Order
from optimizer.orders.next_steps import next_steps
from optimizer.orders.quantity import Share

BAR = 20


def order_card(order: Order) -> str:
    """Write the order: what to buy, how sure, what else would do, and what was assumed."""
    lines = []
    for clutch in order.clutches:
        lines += _clutch(clutch, order)
    if order.joint is not None:
        lines += _joint(order.joint, order)
    lines += ["NEXT"]
    for number, step in enumerate(next_steps(order), 1):
        lines += wrapping.wrapped(step, f"  {number}. ", "     ")
    lines += ["", "ASSUMED, NOT MEASURED"]
    lines += wrapped(assumed(order))
    lines += wrapped(simulated(order))
    lines += [line for warning in order.warnings for line in wrapped("Note: " + warning)]
    return "\n".join(lines) + "\n"


def simulated(order: Order) -> str:
    """Say how many deliveries were simulated, and what their intervals hold."""
    most = max(clutch.options[0].draws for clutch in order.clutches)
    best = f", {most} for the order proposed" if most > order.draws else ""
    return (
        f"{order.draws} simulated deliveries{best}, seed {order.seed}; shares in brackets are "
        "95 % intervals of the simulation alone."
    )


def assumed(order: Order) -> str:
    """Say what was assumed of makers, lots and discs."""
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
    many = "set" if clutch.sets == 1 else "sets"
    lines = [
        f"{clutch.name.upper()}: {clutch.sets} {many} of {clutch.shoes} stacks at "
        f"{text.load(clutch.target_n, u)} +- {text.load(clutch.load_tolerance_n, u)}, "
        f"asked {order.asked:.0%}",
        "",
    ]
    if best.gap_mm:
        lines += wrapped(hangs_loose(best, u))
    if best.packs is None:
        lines += wrapped(
            f"No quantity reaches {order.asked:.0%}: at most {said(best.confidence)} with "
            f"{best.curve[-1].packs} packs of {best.size}. Widen the load tolerance, allow other "
            "patterns, or order in two steps (below)."
        )
    else:
        lines += wrapped(
            f"BUY {best.packs} packs of {best.pack} of {best.size}{_cost(best.cost, order)}: "
            f"{best.discs} discs{_held(best.held)}, {best.left_discs} left over. "
            f"All sets can be built in {said(best.confidence)} of deliveries."
        )
    lines += [*_details(best, u), "", *_blind(best, order), *_curve(best, order)]
    lines += ["  other ways:"] if len(clutch.options) > 1 else []
    for other in clutch.options[1:]:
        hangs = ", LOOSE at rest" if other.gap_mm else ""
        many = "no quantity does" if other.packs is None else f"{other.packs} packs"
        lines += wrapped(
            f"{other.size}, {other.pattern}: {many}{_cost(other.cost, order)}, "
            f"{said(other.confidence)}{hangs}",
            4,
        )
    return [*lines, ""]


def hangs_loose(one: Option, units: str) -> str:
    """Say of an option that hangs loose at rest what that means and what would mend it."""
    return (
        f"LOOSE AT REST: these stacks stand {text.length(one.gap_mm, units)} short of their place "
        "with the shoe at rest, so that they rattle and wear; no pattern of this catalog that "
        "reaches the target presses there. A shorter place, a seat or spacer that thick or "
        "discs of another height would mend it."
    )


def _details(best: Option, u: str) -> list[str]:
    on_shims = (
        f" on shims of {text.length(best.shim_mm, u)} ({best.shimmed:.0%} of deliveries want shims)"
        if best.shim_mm or best.shimmed
        else ""
    )
    return wrapped(
        f"Stack: {best.pattern}{on_shims}, nominal {text.load(best.nominal_load_n, u)}, pressed to "
        f"{best.deflection_share:.2f} h, length {text.length(best.length_mm, u)}, sigma_OM "
        f"{text.stress(best.stress_mpa, u)}. Expected true spread of a set as first built "
        f"{text.load(best.spread_n, u)}; the bench mends that, more discs do not."
    )


def _blind(best: Option, order: Order) -> list[str]:
    steps = best.steps
    lines = wrapped(
        f"Without a gauge the same packs do in {said(best.blind)} of deliveries, and no number "
        f"in more than {said(best.blind_most)}: nobody knows the modulus of a lot."
    )
    if best.in_steps(order.asked):
        lines += wrapped(
            f"In two steps: buy {steps.sample_packs} as a sample, put one stack on the gauge; "
            f"{said(steps.suits)} of lots are worth going on with, and then all sets can be "
            f"built in {said(steps.confidence)} of deliveries with {steps.mean_packs:.1f} packs "
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
            f"{said(point.confidence)} {mark}".rstrip()
        )
    return [*lines, ""]


def _joint(joint: Joint, order: Order) -> list[str]:
    lines = [f"ALL IN ONE ORDER{_cost(joint.cost, order)}: {said(joint.confidence)}"]
    for line in joint.lines:
        lines += wrapped(
            f"{line.packs} packs of {line.size}{_cost(line.cost, order)}: {line.discs} discs"
            f"{_held(line.held)}",
            4,
        )
    for use in joint.uses:
        lines += wrapped(
            f"{use.sets} sets for {use.clutch}: {use.size}, {use.pattern}, {use.discs} discs", 4
        )
    return [*lines, f"    {joint.left_discs} discs left over", ""]


def said(share: Share) -> str:
    """Say a share of deliveries with its interval."""
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def _cost(cost: float | None, order: Order) -> str:
    return "" if cost is None else f" for {cost:.2f} {order.currency}".rstrip()


def _held(held: int) -> str:
    return f" and {held} on hand" if held else ""


def wrapped(words: str, indent: int = 2) -> list[str]:
    """Break a paragraph into indented lines."""
    return wrapping.wrapped(words, " " * indent)
