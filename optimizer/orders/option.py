"""What the draws say of one size and pattern, written down for the user."""

from __future__ import annotations

import numpy as np

from optimizer.orders.document import Option, Point
from optimizer.orders.judging import Judged, cost_of
from optimizer.orders.quantity import NEVER, confidence, smallest
from optimizer.orders.simulate import sample_packs
from optimizer.orders.steps import steps

#: points of the curve of confidence against quantity
CURVE_POINTS = 24


def option(judged: Judged, asked: float, priced: bool) -> Option:
    """Write what the draws say of a candidate."""
    candidate, outcome, packs = judged.candidate, judged.outcome, judged.packs
    needed = candidate.pattern.discs * judged.study.clutch.shoes * judged.study.clutch.sets
    found = smallest(outcome.packs, asked)
    at = packs.most if found == NEVER else found
    size = candidate.size
    near = np.abs(outcome.error_n) <= judged.study.clutch.load_tolerance_n
    built = ~np.isnan(outcome.spread_n)
    return Option(
        size=size.name,
        pattern=str(candidate.pattern),
        discs_per_stack=candidate.pattern.discs,
        nominal_load_n=candidate.load_n,
        deflection_share=candidate.share,
        stress_mpa=candidate.stress_mpa,
        length_mm=candidate.length_mm,
        pack=size.pack,
        packs=None if found == NEVER else found,
        discs=None if found == NEVER else found * size.pack,
        held=packs.held,
        left_discs=None if found == NEVER else packs.discs(found) - needed,
        shim_mm=candidate.shim_mm,
        shimmed=float((outcome.shim_mm[built] > 0).mean()) if built.any() else 0.0,
        draws=judged.draws,
        cost=None if found == NEVER or not priced else cost_of(size, found),
        lead_days=size.lead_days,
        confidence=confidence(outcome.packs, at),
        blind=confidence(outcome.blind_packs, at),
        blind_most=confidence(np.where(near, 0, NEVER), 0),
        spread_n=float(outcome.spread_n[built].mean()) if built.any() else float("nan"),
        curve=_curve(judged, at, priced),
        steps=steps(outcome, packs, needed, sample_packs(candidate), asked),
        gap_mm=candidate.gap_mm,
    )


def _curve(judged: Judged, at: int, priced: bool) -> tuple[Point, ...]:
    """Confidence from the least quantity to well beyond the chosen one, which is among them."""
    packs, size = judged.packs, judged.candidate.size
    last = min(packs.most, at + max(2, (at - packs.least) // 2))
    places = np.unique(np.linspace(packs.least, last, CURVE_POINTS).round().astype(int))
    return tuple(
        Point(
            int(k),
            packs.discs(int(k)),
            cost_of(size, int(k)) if priced else None,
            confidence(judged.outcome.packs, int(k)),
        )
        for k in sorted({*places.tolist(), at})
    )
