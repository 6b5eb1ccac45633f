"""What the draws say of one size and pattern, written down for the user."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from optimizer.orders.choose import Cart, StockItem, cheapest_cart, price_of
from optimizer.orders.document import BuyingPlan, CurvePoint, OrderLine, SizeOption
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate
from optimizer.orders.quantity import NEVER, confidence, least_that, plateau
from optimizer.orders.steps import Steps, steps

#: points of the curve of confidence against quantity
CURVE_POINTS = 24


def option(judged: JudgedCandidate, goal: ConfidenceGoal, priced: bool) -> SizeOption:
    """Write what the draws say of a candidate."""
    candidate, outcome, packs = judged.candidate, judged.outcome, judged.packs
    size, item = candidate.size, judged.item
    found, bought = judged.does(goal), judged.cart(goal)
    if bought is not None:  # packs may hold more than is wanted
        at = max(found, bought.discs(0) // packs.pack)
    elif found == NEVER:
        at = plateau(outcome.packs, packs.most)
    else:
        at = _within_budget(judged, found, goal)
    near = np.abs(outcome.error_n) <= judged.study.clutch.load_tolerance_n
    built, shown = ~np.isnan(outcome.shim_mm), ~np.isnan(outcome.spread_n)

    def price(discs: int) -> float | None:
        chosen = cheapest_cart(item_of_new, discs) if priced else None
        return None if chosen is None else chosen.cost

    item_of_new = replace(item, held=0)
    two = steps(judged.study, outcome, goal.asked, judged.matched, price)
    at_once, sampled = _courses(judged, at, bought, two, price)
    return SizeOption(
        size=size.name,
        pattern=str(candidate.pattern),
        discs_per_stack=candidate.pattern.discs,
        nominal_load_n=candidate.load_n,
        deflection_share=candidate.share,
        stress_mpa=candidate.stress_mpa,
        length_mm=candidate.length_mm,
        lines=() if bought is None else lines_of([item], bought, priced),
        discs=None if bought is None else bought.discs(0),
        held=packs.held,
        left_discs=None if bought is None else packs.held + bought.discs(0) - judged.study.needed,
        shim_mm=candidate.shim_mm,
        shimmed=float((outcome.shim_mm[built] > 0).mean()) if built.any() else 0.0,
        draws=judged.draws,
        cost=None if bought is None or not priced else bought.cost,
        lead_days=None if bought is None else bought.lead_days,
        enough=at * packs.pack,
        confidence=judged.promise(at),
        dealt=confidence(outcome.packs, at),
        set_chance=judged.of_set.share,
        matched=judged.matched,
        blind=confidence(outcome.blind_packs, at),
        blind_most=confidence(np.where(near, 0, NEVER), 0),
        spread_n=float(outcome.spread_n[shown].mean()) if shown.any() else None,
        curve=_curve(judged, at, price),
        steps=two,
        gap_mm=candidate.gap_mm,
        at_once=at_once,
        sampled=sampled,
    )


def _courses(
    judged: JudgedCandidate,
    at: int,
    bought: Cart | None,
    two: Steps,
    price: Callable[[int], float | None],
) -> tuple[BuyingPlan, BuyingPlan | None]:
    """Say what it takes to buy `at` packs at once, and a sample first."""
    packs, clutch, item = judged.packs, judged.study.clutch, replace(judged.item, held=0)
    discs = packs.discs(at) - packs.held if bought is None else bought.discs(0)
    measuring = clutch.effort.measuring(clutch.instrument.tool)
    gauging = clutch.effort.build + clutch.effort.reading

    def days(count: float) -> float | None:
        of_these = cheapest_cart(item, int(count)) if count >= 1 else None
        return None if of_these is None else of_these.lead_days

    at_once = BuyingPlan(
        price(discs) if bought is None else bought.cost if price(1) is not None else None,
        days(discs) if bought is None else bought.lead_days,
        discs * measuring + gauging,
        judged.promise(at),
    )
    if not two.suits.share:
        return at_once, None
    samples, first_days = two.samples, days(two.sample_discs)
    rest_days = days(two.mean_discs - two.sample_discs) if first_days is not None else None
    refused = (samples - 1) * two.sample_discs
    return at_once, BuyingPlan(
        two.cost,
        None if first_days is None else samples * first_days + (rest_days or 0.0),
        (refused + two.mean_discs) * measuring + samples * gauging,
        two.confidence,
    )


def _within_budget(judged: JudgedCandidate, found: int, goal: ConfidenceGoal) -> int:
    """Most packs to `found` that the budget buys."""
    packs = judged.packs
    over = least_that(
        lambda k: cheapest_cart(judged.item, packs.discs(k), goal.budget) is None,
        packs.least,
        found,
    )
    return max(over - 1, packs.least)


def lines_of(items: Sequence[StockItem], bought: Cart, priced: bool) -> tuple[OrderLine, ...]:
    """Write what is bought, the packs of each kind."""
    return tuple(
        OrderLine(
            size=items[b.item].size.name,
            packs=b.packs,
            pack=b.offer.pack,
            discs=b.discs,
            held=items[b.item].held,
            cost=b.packs * price_of(b.offer) if priced else None,
            supplier=b.offer.supplier.name,
        )
        for b in bought.bought
    )


def _curve(
    judged: JudgedCandidate, at: int, price: Callable[[int], float | None]
) -> tuple[CurvePoint, ...]:
    """Confidence from the least quantity to well beyond the chosen one, which is among them."""
    packs = judged.packs
    last = min(packs.most, at + max(2, (at - packs.least) // 2))
    places = np.unique(np.linspace(packs.least, last, CURVE_POINTS).round().astype(int))
    return tuple(
        CurvePoint(int(k) * packs.pack, price(int(k) * packs.pack), judged.promise(int(k)))
        for k in sorted({*places.tolist(), at})
    )
