"""What would mend an order that no quantity fulfils: the cheapest change, how sure, at what cost.

Whether sets can be matched is a formula, so all changes at the bench are looked at, and several
together where none alone does. Whether loads come on target is drawn, so of those changes few are.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from optimizer.control import Report, quiet
from optimizer.model.catalog import Size
from optimizer.model.job import Gauge, Instrument
from optimizer.orders.choose import cheapest_cart
from optimizer.orders.clutch import USUAL, OrderedClutch
from optimizer.orders.document import LEAST_SUITING, ProposedChange
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, more
from optimizer.orders.levers import (
    ChangedClutch,
    loading,
    loose,
    rounds,
    wider_load,
    wider_spread,
    working,
)
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate, candidates
from optimizer.orders.onhand import OnHand
from optimizer.orders.option import lines_of, option
from optimizer.orders.quantity import NEVER, plateau
from optimizer.orders.response import ROUNDS
from optimizer.orders.study import Study

#: deliveries that judge a change; changes at the bench that are drawn, and those told
DRAWS, TRIED, TOLD = 60, 2, 4
#: kinds of work that are combined at most, and candidates that are looked at
MOST_CHANGES, LOOKED_AT = 4, 4
#: what tolerances are widened to, in times
WIDER = np.array([1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0])


def mend(
    found: list[JudgedCandidate],
    sizes: tuple[Size, ...],
    held: dict[str, OnHand],
    goal: ConfidenceGoal,
    report: Report = quiet,
) -> tuple[ProposedChange, ...]:
    """Tell what would mend an order whose options `found` do not do; nothing where one does."""
    best = found[0]
    if best.cart(goal) is not None:
        return ()
    if best.does(goal) != NEVER:
        return _of_money(best, goal)
    report("no quantity does: looking for what would mend it", 0.0)
    at = ChangedClutch(best.study.clutch, best.study.making)
    few = replace(goal, draws=min(DRAWS, goal.draws), budget=None)
    trials = ChangeTrials(sizes, held, few)
    told = list(_sampled(best, goal))
    base = [at] if trials.matched(at) >= goal.asked else _matching(at, trials)
    for of in base:
        judged = trials.judged(of)
        if judged is None:
            continue
        if of.changes:
            told.append(_told(of, judged, few))
        if judged.cart(few) is None and of is base[0]:
            told += _on_target(of, trials)
    keeps = [m for m in told if m.lines]
    keeps.sort(key=lambda m: (m.cost is None, m.cost or 0.0, len(m.changes)))
    return tuple((keeps or sorted(told, key=lambda m: -m.confidence.share))[:TOLD])


@dataclass(frozen=True)
class ChangeTrials:
    """Where changed clutches are bought for: sizes, discs on hand, and a goal of a few draws."""

    sizes: tuple[Size, ...]
    held: dict[str, OnHand]
    few: ConfidenceGoal

    def studies(self, at: ChangedClutch) -> list[JudgedCandidate]:
        """Return the first candidates of a changed clutch that it can be built of as it asks."""
        work = at.clutch.work
        plain = replace(
            at.clutch, sets=1, spread_n=1.0, scatter=0.0, place_sd_mm=0.0, work=USUAL,
            gauge=Gauge(1.0, 0.0), instrument=Instrument(),
        )  # fmt: skip
        found = _candidates(self.sizes, plain, at.making)
        return [
            JudgedCandidate(Study.of(at.clutch, c, at.making, self.held))
            for c in found
            if not work.groups or c.in_groups(work.groups)
        ][:LOOKED_AT]

    def matched(self, at: ChangedClutch) -> float:
        """Chance that all sets end truly within, of the candidate for which it is best."""
        return max((j.matched for j in self.studies(at)), default=0.0)

    def matches(self, at: ChangedClutch) -> bool:
        """Whether sets end truly within surely enough to leave something to the loads."""
        return self.matched(at) >= (1 + self.few.asked) / 2

    def judged(self, at: ChangedClutch) -> JudgedCandidate | None:
        """Draw the likeliest candidate of a changed clutch: the first that can be matched.

        In a room several, as which of them press there at rest is not told by their loads.
        """
        every = self.studies(at)
        able = [j for j in every if j.matched >= self.few.asked] or every
        drawn = more(able[: LOOKED_AT if at.clutch.datum.has_room else 1], self.few.draws, self.few)
        return min(drawn, key=lambda j: j.rank(self.few), default=None)

    def told(self, at: ChangedClutch) -> ProposedChange | None:
        """Say what a changed clutch gives; None where nothing of the catalog serves it."""
        judged = self.judged(at)
        return None if judged is None else _told(at, judged, self.few)


@cache
def _candidates(
    sizes: tuple[Size, ...], clutch: OrderedClutch, making: Manufacture
) -> list[Candidate]:
    """Candidates by what they depend on, those that press at rest where any does."""
    found = candidates(sizes, clutch, making)
    return [c for c in found if not c.gap_mm] or found


def _matching(at: ChangedClutch, trials: ChangeTrials) -> list[ChangedClutch]:
    """Changes with which sets end truly within often enough: the least work, and a wider spread.

    As little as does: one kind of work if any, else two or three, each with the fewest rounds.
    """
    some = [at]
    done: dict[frozenset[str], ChangedClutch] = {}
    for _ in range(MOST_CHANGES):
        for one in some:
            if (found := _with_rounds(one, trials)) is not None:
                done.setdefault(found.kinds, found)
        if done:
            break
        some = list({two.kinds: two for one in some for two in working(one)
                     if two.kinds != one.kinds}.values())  # fmt: skip
    few = sorted(done.values(), key=lambda one: len(one.changes))[:TRIED]
    spreads = (wider_spread(at, float(times)) for times in WIDER)
    return few + [one for one in spreads if trials.matches(one)][:1] or [
        wider_spread(at, WIDER[-1])
    ]


def _with_rounds(one: ChangedClutch, trials: ChangeTrials) -> ChangedClutch | None:
    """Return a change with the fewest more rounds that do, None where none do."""
    if one.changes and trials.matches(one):
        return one
    now = one.clutch.work
    if not trials.matches(rounds(one, ROUNDS)):
        return None
    return next(
        found
        for count in range(1 if now.groups else now.rounds + 1, ROUNDS + 1)
        if trials.matches(found := rounds(one, count))
    )


def _on_target(of: ChangedClutch, trials: ChangeTrials) -> Iterator[ProposedChange]:
    """Changes of the load that are needed on top of those at the bench.

    That stacks hang loose is told where nothing else does.
    """
    wider: dict[int, ProposedChange | None] = {}

    def does(at: int) -> bool:
        wider[at] = told = trials.told(wider_load(of, float(WIDER[at])))
        return told is not None and bool(told.lines)

    every = [trials.told(one) for one in loading(of)]
    least = bisect_left(range(len(WIDER)), True, key=does)
    every.append(wider.get(min(least, len(WIDER) - 1)))
    if of.clutch.datum.has_room and not any(one.lines for one in every if one is not None):
        every.append(trials.told(loose(of)))
    yield from (one for one in every if one is not None)


def _told(of: ChangedClutch, judged: JudgedCandidate, goal: ConfidenceGoal) -> ProposedChange:
    priced = judged.candidate.size.priced
    bought, found = judged.cart(goal), judged.does(goal)
    packs = judged.packs
    at = plateau(judged.outcome.packs, packs.most) if bought is None else found
    return ProposedChange(
        of.changes,
        judged.promise(at),
        bought.cost if bought is not None and priced else None,
        () if bought is None else lines_of([judged.item], bought, priced),
    )


def _sampled(best: JudgedCandidate, goal: ConfidenceGoal) -> Iterator[ProposedChange]:
    """The order in two steps, where it keeps what is asked and lots that suit are not rare."""
    one = option(best, goal, best.candidate.size.priced)
    if one.steps.confidence.share >= goal.asked and one.steps.suits.share >= LEAST_SUITING:
        bought = cheapest_cart(replace(best.item, held=0), one.steps.sample_discs)
        if bought is not None:
            lines = lines_of([best.item], bought, best.candidate.size.priced)
            words = f"a sample first; {one.steps.suits.share:.0%} of lots are worth going on with"
            yield ProposedChange((words,), one.steps.confidence, one.steps.cost, lines)


def _of_money(best: JudgedCandidate, goal: ConfidenceGoal) -> tuple[ProposedChange, ...]:
    """What is wanted is beyond the budget, or beyond what there is."""
    found = best.does(goal)
    bought = cheapest_cart(best.item, best.packs.discs(found))
    if bought is None:
        words = "more packs in stock, or another supplier"
        return (ProposedChange((words,), best.promise(found), None, ()),)
    lines = lines_of([best.item], bought, best.candidate.size.priced)
    words = f"a budget of {bought.cost:.2f}"
    return (ProposedChange((words,), best.promise(found), bought.cost, lines),)
