"""An order as readable text of at most 80 columns."""

from __future__ import annotations

from optimizer import text
from optimizer.orders.document import ClutchOrder, JointOrder, Order, ProposedChange, SizeOption
from optimizer.orders.next_steps import next_steps, to_buy
from optimizer.orders.quantity import Proportion
from optimizer.wrapping import paragraphs, width, wrapped

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
        lines += wrapped(step, f"  {number}. ", "     ")
    lines += ["", "ASSUMED, NOT MEASURED"]
    lines += wrapped(assumed(order), "  ")
    lines += wrapped(simulated(order), "  ")
    lines += paragraphs((f"Note: {warning}" for warning in order.warnings), "  ")
    return "\n".join(lines) + "\n"


def simulated(order: Order) -> str:
    """Say how many deliveries were simulated, and what their intervals hold."""
    every = [option.draws for clutch in order.clutches for option in clutch.options]
    most = max(clutch.options[0].draws for clutch in order.clutches)
    others = f", {min(every)} for what is clearly worse" if min(every) < most else ""
    return (
        f"{most} simulated deliveries for the order proposed{others}, seed {order.seed}. What the "
        "bench makes of a set comes from full plays of the learning loop. Shares in brackets are "
        "95 % intervals of both; that what is assumed holds is not in them."
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
        f"dealt.{''.join(_if_lots_scatter(clutch, order) for clutch in order.clutches)}"
    )


def _if_lots_scatter(clutch: ClutchOrder, order: Order) -> str:
    """Say what the promise becomes where a maker's lots differ more than is assumed."""
    if clutch.if_lots_scatter is None:
        return ""
    of_many = f" for {clutch.name}" if len(order.clutches) > 1 else ""
    return (
        f" The promise stands on this: were the means of lots to scatter twice as far, the order"
        f"{of_many} would do in {said(clutch.if_lots_scatter)}. For such a maker plan with "
        f"--lot-share {2 * order.making.lot_share:g}; what a delivery tells of its lot goes before "
        "all of this: plan on from it with --received."
    )


def _clutch(clutch: ClutchOrder, order: Order) -> list[str]:
    u = order.units
    best = clutch.options[0]
    many = "set" if clutch.sets == 1 else "sets"
    lines = wrapped(
        f"{clutch.name.upper()}: {clutch.sets} {many} of {clutch.shoes} stacks at "
        f"{text.load(clutch.target_n, u)} +- {text.load(clutch.load_tolerance_n, u)}, "
        f"asked {order.asked:.0%}"
    )
    lines.append("")
    if best.gap_mm:
        lines += wrapped(hangs_loose(best, u), "  ")
    lines += wrapped(f"{buy(best, order)} {promise(clutch, best, order)}", "  ")
    lines += [*_mends(clutch, order), *_details(best, u), ""]
    lines += [*_blind(best, order), *_curve(best, order)]
    lines += ["  other ways:"] if len(clutch.options) > 1 else []
    for other in clutch.options[1:]:
        hangs = ", LOOSE at rest" if other.gap_mm else ""
        many = to_buy(other.lines) if other.does else f"{other.size}: no quantity does"
        lines += wrapped(
            f"{other.pattern}: {many}{_cost(other.cost, order)}, {said(other.confidence)}{hangs}",
            "    ",
        )
    return [*lines, ""]


def buy(best: SizeOption, order: Order) -> str:
    """Say what to buy, or that no quantity keeps what was asked."""
    if not best.does:
        within = "" if order.budget is None else f" within {order.budget:.2f} {order.currency}"
        return (
            f"NO QUANTITY{within.rstrip()} KEEPS {order.asked:.0%}: {best.enough} discs of "
            f"{best.size} do about as often as any number."
        )
    if not best.lines:
        return f"BUY NOTHING: the {best.held} discs on hand do."
    return (
        f"BUY {to_buy(best.lines)}{_cost(best.cost, order)}: {best.discs} "
        f"discs{_held(best.held)}, {best.left_discs} left over."
    )


def promise(clutch: ClutchOrder, best: SizeOption, order: Order) -> str:
    """Say how often all sets end as the builder wants them, and of what that is made."""
    width = text.load(clutch.spread_tolerance_n, order.units)
    return (
        f"All sets end truly within {width} and on target in {said(best.confidence)} of "
        f"deliveries, {worked(clutch)}: one set does in {best.set_chance:.1%}, all "
        f"{clutch.sets} in {best.matched:.1%}. Dealt so as measured, and truly on target: "
        f"{said(best.dealt)}."
    )


def worked(clutch: ClutchOrder) -> str:
    """Say what the builder will do with every set."""
    work = clutch.work
    if work.groups:
        return f"with groups of {work.groups} discs gauged and kept together"
    if not work.rounds:
        return "as first built, with no work on the bench"
    rounds = "1 round" if work.rounds == 1 else f"up to {work.rounds} rounds"
    return f"after {rounds} of gauge and swap"


def mended(one: ProposedChange, order: Order) -> str:
    """Say what a change would bring."""
    then = f"{to_buy(one.lines)}{_cost(one.cost, order)}" if one.lines else "still too seldom"
    return f"{' and '.join(one.changes)}: {then}, {said(one.confidence)}"


def _mends(clutch: ClutchOrder, order: Order) -> list[str]:
    if not clutch.mends:
        return []
    keeps = any(one.lines for one in clutch.mends)
    head = "WHAT WOULD MEND IT, cheapest first" if keeps else "NO SINGLE CHANGE MENDS IT; best"
    lines = ["", f"  {head}:"]
    for one in clutch.mends:
        lines += wrapped(mended(one, order), "  - ", "    ")
    return [*lines, ""]


def hangs_loose(one: SizeOption, units: str) -> str:
    """Say of an option that hangs loose at rest what that means and what would mend it."""
    return (
        f"LOOSE AT REST: these stacks stand {text.length(one.gap_mm, units)} short of their place "
        "with the shoe at rest, so that they rattle and wear; no pattern of this catalog that "
        "reaches the target presses there. A shorter place, a seat or spacer that thick or "
        "discs of another height would mend it."
    )


def _details(best: SizeOption, u: str) -> list[str]:
    on_shims = (
        f" on shims of {text.length(best.shim_mm, u)} ({best.shimmed:.0%} of deliveries want shims)"
        if best.shim_mm or best.shimmed
        else ""
    )
    return wrapped(
        f"Stack: {best.pattern}{on_shims}, nominal {text.load(best.nominal_load_n, u)}, pressed to "
        f"{best.deflection_share:.2f} h, length {text.length(best.length_mm, u)}, sigma_OM "
        f"{text.stress(best.stress_mpa, u)}.{first_built(best, u)}",
        "  ",
    )


def first_built(best: SizeOption, u: str) -> str:
    """Say how far apart the stacks of a set are before the bench mends it."""
    if best.spread_n is None:
        return ""
    return (
        f" Expected true spread of a set as first built {text.load(best.spread_n, u)}; the bench "
        "mends that, more discs do not."
    )


def _blind(best: SizeOption, order: Order) -> list[str]:
    lines = wrapped(
        f"Without a gauge the same discs are on target in {said(best.blind)} of deliveries, and "
        f"no number in more than {said(best.blind_most)}: nobody knows the modulus of a lot.",
        "  ",
    )
    if best.in_steps(order.asked):
        lines += wrapped(in_steps(best, order), "  ")
    return [*lines, ""]


def in_steps(best: SizeOption, order: Order) -> str:
    """Say what a sample first costs and promises, beside all at once."""
    steps = best.steps
    now, then = best.at_once, best.sampled
    days = ""
    if now is not None and then is not None and now.days is not None and then.days is not None:
        days = f", in {then.days:.0f} days instead of {now.days:.0f}"
    cost = "" if steps.cost is None else f"{_cost(steps.cost, order)} on average"
    return (
        f"A sample first: {steps.sample_discs} discs, one stack on the gauge; {said(steps.suits)} "
        f"of lots are worth going on with ({steps.samples:.1f} samples on average), and then all "
        f"sets end right in {said(steps.confidence)} with {steps.mean_discs:.0f} discs in all on "
        f"average, {steps.most_discs} at most{cost}{days}, if the rest is of the same lot."
    )


def _curve(best: SizeOption, order: Order) -> list[str]:
    if best.matched < order.asked:  # no quantity changes that
        return []
    room = max(min(BAR, width() - 50), 0)
    lines = [f"  {'discs':>6} {'cost':>10}   share of deliveries that end right"]
    for point in best.curve:
        cost = "" if point.cost is None else f"{point.cost:.2f}"
        bar = "#" * round(room * point.confidence.share)
        mark = "<" if best.does and point.discs == best.enough else ""
        share = f"{bar:<{room}} {said(point.confidence)}"
        lines.append(f"  {point.discs:>6} {cost:>10}   {share} {mark}".rstrip())
    return [*lines, ""]


def _joint(joint: JointOrder, order: Order) -> list[str]:
    lines = [f"ALL IN ONE ORDER{_cost(joint.cost, order)}: {said(joint.confidence)}"]
    for line in joint.lines:
        lines += wrapped(
            f"{to_buy([line])}{_cost(line.cost, order)}: {line.discs} discs{_held(line.held)}",
            "    ",
        )
    for use in joint.uses:
        lines += wrapped(
            f"{use.sets} sets for {use.clutch}: {use.size}, {use.pattern}, {use.discs} discs",
            "    ",
        )
    return [*lines, f"    {joint.left_discs} discs left over", ""]


def said(share: Proportion) -> str:
    """Say a share of deliveries with its interval."""
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def _cost(cost: float | None, order: Order) -> str:
    return "" if cost is None else f" for {cost:.2f} {order.currency}".rstrip()


def _held(held: int) -> str:
    return f" and {held} on hand" if held else ""
