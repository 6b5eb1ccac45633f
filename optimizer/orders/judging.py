"""Candidates judged by draws: a few rank them, more decide where the ranking is close."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.control import Report, quiet
from optimizer.errors import CannotBuildError, Problem
from optimizer.orders.catalog import Size
from optimizer.orders.clutch import Clutch
from optimizer.orders.making import Making
from optimizer.orders.nominal import Candidate, candidates
from optimizer.orders.onhand import OnHand, none_on_hand
from optimizer.orders.quantity import NEVER, Packs, confidence, smallest
from optimizer.orders.simulate import Outcome, Stopped, Study, simulate

#: candidates looked at, of which at most so many are of one size; and those judged by all draws
SHORTLIST, OF_ONE_SIZE, FINALISTS = 8, 3, 3
#: draws by which the shortlist is ranked
RANKING_DRAWS = 60
#: the draws are made up to so many times over for the order that is proposed
SETTLED_TIMES = 2


@dataclass(frozen=True)
class Wish:
    """What is asked of an order: sets at a confidence, judged by seeded draws."""

    asked: float = 0.95
    draws: int = 1000
    seed: int = 0
    workers: int | None = None


@dataclass(frozen=True)
class Judged:
    """A study of one candidate and what the draws say of it."""

    study: Study
    outcome: Outcome = field(default_factory=Outcome.none)

    @property
    def candidate(self) -> Candidate:
        """Return the size and pattern."""
        return self.study.candidates[0]

    @property
    def draws(self) -> int:
        """Deliveries that it was judged by."""
        return len(self.outcome.packs)

    def joined(self, later: Outcome) -> Judged:
        """Return it with the outcome of further draws."""
        return replace(self, outcome=Outcome.joined([self.outcome, later]))

    @property
    def packs(self) -> Packs:
        """Return the quantities that come into question."""
        return self.study.packs(self.candidate)

    def rank(self, asked: float) -> tuple[float, float]:
        """Cost of the order that keeps the confidence; where none does, the best it reaches."""
        at = smallest(self.outcome.packs, asked)
        if at == NEVER:
            return np.inf, -confidence(self.outcome.packs, self.packs.most).share
        return cost_of(self.candidate.size, at), float(self.candidate.pattern.discs)


def cost_of(size: Size, packs: int) -> float:
    """Price of some packs or, where the catalog has none, their discs."""
    return packs * (size.pack if size.price is None else size.price)


def judge(
    clutch: Clutch,
    sizes: tuple[Size, ...],
    making: Making,
    on_hand: dict[str, OnHand],
    wish: Wish,
    report: Report = quiet,
) -> list[Judged]:
    """Rank a shortlist by a few draws, its head by all of them, and settle the first.

    Raises
    ------
    CannotBuildError
        when no size and pattern reaches the target within its limits.
    Stopped
        on Ctrl-C; says what was known by then.
    """
    every = _shortlist(candidates(sizes, clutch, making))
    if not every:
        raise CannotBuildError(
            Problem(
                "No size of the catalog reaches the target load within the limits of deflection, "
                "height and stress.",
                clutch.name,
                "Allow more packet_sizes or discs in the job, widen the height window, or give a "
                "catalog with other sizes.",
            )
        )
    studies = [Study(clutch, (c,), making, on_hand.get(c.size.name, none_on_hand())) for c in every]

    def ranked(some: list[Judged]) -> list[Judged]:
        return sorted(some, key=lambda j: j.rank(wish.asked))

    few = min(RANKING_DRAWS, wish.draws)
    found = ranked(more([Judged(s) for s in studies], few, wish, report))[:FINALISTS]
    found = ranked(more(found, wish.draws - few, wish, report))
    while True:
        first = settle(found[0], wish, report)
        if first is found[0]:
            return found
        found = ranked([first, *found[1:]])


def settle(judged: Judged, wish: Wish, report: Report = quiet) -> Judged:
    """Draw more where the draws cannot tell the quantity found from the next smaller one.

    The smallest quantity that passes is the lucky one of its draws where the curve is flat;
    the more draws, the less luck.
    """
    while judged.draws < SETTLED_TIMES * wish.draws and not _told(judged, wish.asked):
        [judged] = more([judged], wish.draws, wish, report)
    return judged


def _told(judged: Judged, asked: float) -> bool:
    """Tell whether the intervals say that the quantity does and one pack less does not."""
    at = smallest(judged.outcome.packs, asked)
    if at == NEVER:
        return confidence(judged.outcome.packs, judged.packs.most).high < asked
    less = at == judged.packs.least or confidence(judged.outcome.packs, at - 1).high < asked
    return less and confidence(judged.outcome.packs, at).low >= asked


def more(some: list[Judged], draws: int, wish: Wish, report: Report = quiet) -> list[Judged]:
    """Judge candidates, all of them judged by equally many draws so far, by some more.

    Those of one size are judged together, as they share their deliveries.
    """
    if draws <= 0:
        return some
    groups: dict[Size, list[Judged]] = {}
    for j in some:
        groups.setdefault(j.candidate.size, []).append(j)
    studies = [
        replace(group[0].study, candidates=tuple(j.candidate for j in group))
        for group in groups.values()
    ]

    def with_outcomes(outcomes: list[list[Outcome]]) -> list[Judged]:
        return [
            j.joined(outcome)
            for group, of_study in zip(groups.values(), outcomes, strict=True)
            for j, outcome in zip(group, of_study, strict=True)
        ]

    try:
        outcomes = simulate(studies, draws, wish.seed, wish.workers, report, some[0].draws)
    except Stopped as stop:
        known = with_outcomes(stop.outcomes) if stop.outcomes else some
        raise Stopped(said_so_far(known, wish)) from None
    return with_outcomes(outcomes)


def said_so_far(some: list[Judged], wish: Wish) -> str:
    """Say what is known of the best candidate when the draws are broken off."""
    if not some[0].draws:
        return "Stopped; nothing was written."
    best = min(some, key=lambda j: j.rank(wish.asked))
    at = smallest(best.outcome.packs, wish.asked)
    k = best.packs.most if at == NEVER else at
    share = confidence(best.outcome.packs, k)
    return (
        f"Stopped after {best.draws} deliveries; nothing was written. So far best of "
        f"{len(some)}: {k} packs of {best.candidate.size.name}, {best.candidate.pattern}, with "
        f"which all sets can be built in {share.low:.0%} to {share.high:.0%} of deliveries."
    )


def _shortlist(every: list[Candidate]) -> list[Candidate]:
    """The first few; those that hang loose at rest only where none presses."""
    taken: list[Candidate] = []
    for candidate in [c for c in every if not c.gap_mm] or every:
        same = sum(c.size.name == candidate.size.name for c in taken)
        if same < OF_ONE_SIZE and len(taken) < SHORTLIST:
            taken.append(candidate)
    return taken
