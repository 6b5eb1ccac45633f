"""A received bag as readable text of at most 80 columns."""

from __future__ import annotations

from optimizer import text
from optimizer.estimate.probability import NINETEEN_OF_TWENTY
from optimizer.orders.received import LotMean, Received
from optimizer.report.order_card import order_card, said
from optimizer.wrapping import paragraphs, wrapped


def received_card(received: Received, units: str) -> str:
    """Write what a received bag can build, how it differs from the plan, and what to reorder."""
    shims = f" on shims of {text.length(received.shim_mm, units)}" if received.shim_mm else ""
    lines = wrapped(
        f"RECEIVED {received.discs} discs: {received.buildable_sets} of {received.wanted_sets} "
        f"sets can be built now (at most {received.buildable_bound})"
        + (f", each stack {received.pattern}{shims}." if received.pattern else "."),
        "  ",
    )
    lines += _planned(received)
    for lot in received.lots:
        lines += _lot(lot, units)
    lines += paragraphs(received.reasons, "  ")
    if received.buildable_sets:
        lines += wrapped(
            "Deal them now: name this bag in the job file, then evenstack match JOB --sets "
            f"{received.buildable_sets}.",
            "  ",
        )
    if received.reorder is None:
        return "\n".join([*lines, "  Nothing needs to be ordered again."]) + "\n"
    lines += wrapped(
        f"{received.short_sets} sets short. To build all {received.wanted_sets} with the discs "
        f"received and {'more of their lot' if received.same_lot else 'a new lot'}:",
        "  ",
    )
    return "\n".join([*lines, "", order_card(received.reorder)])


def _planned(received: Received) -> list[str]:
    plan = received.planned
    if plan is None:
        return []
    if plan.lines is None:
        return wrapped(f"{plan.file} had found no quantity that reaches {plan.asked:.0%}.", "  ")
    lines = wrapped(
        f"Planned in {plan.file}: all sets in {said(plan.confidence)} of deliveries, asked "
        f"{plan.asked:.0%}.",
        "  ",
    )
    for one in received.expected:
        lack = one.discs - one.there
        lines += wrapped(
            f"{one.size}: {one.packs} packs planned, {one.discs} discs with those on hand; "
            f"{one.there} are here" + (f", {lack} too few." if lack > 0 else "."),
            "    ",
        )
    return lines


def _lot(lot: LotMean, units: str) -> list[str]:
    return wrapped(
        f"{lot.discs} discs of {lot.size}: on average off nominal by "
        + " and ".join(
            f"{off_nominal(off, units)} in {what} ({usual(off, sd, units)})"
            for what, off, sd in (
                ("thickness", lot.thickness_off_mm, lot.thickness_sd_mm),
                ("cone height", lot.cone_height_off_mm, lot.cone_height_sd_mm),
            )
        ),
        "    ",
    )


def usual(off_mm: float, sd_mm: float, units: str) -> str:
    """Say how a lot mean lies in the range that was assumed for 19 of 20 lots."""
    within = abs(off_mm) <= NINETEEN_OF_TWENTY * sd_mm
    reach = text.length(NINETEEN_OF_TWENTY * sd_mm, units)
    return f"{'as' if within else 'not as'} assumed: within {reach}"


def off_nominal(mm: float, units: str) -> str:
    """Say a signed length; none on zero."""
    size = text.length(abs(mm), units)
    if not float(size.split()[0]):
        return size
    return ("+" if mm > 0 else "-") + size
