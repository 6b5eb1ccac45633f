"""Candidates judged by draws: a few rank them, more decide where the ranking is close."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optimizer.control import Report, quiet
from optimizer.frozen import joined
from optimizer.model.catalog import Size
from optimizer.orders.choose import Cart, StockItem, cheapest_cart
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate, able
from optimizer.orders.onhand import OnHand
from optimizer.orders.quantity import NEVER, Proportion, confidence, least_that, plateau, smallest
from optimizer.orders.response import set_chance
from optimizer.orders.simulate import Outcome, Stopped, simulate
from optimizer.orders.study import Quantities, Study

#: candidates looked at, of which at most so many are of one size; and those judged by all draws
SHORTLIST, OF_ONE_SIZE, FINALISTS = 8, 3, 3
#: candidates looked at where none can be matched surely enough
FEW = 2
#: a chance is about as good as the best that is this share of it
NEAR = 0.9
#: draws by which the shortlist is ranked, and of them those after which a first answer is told
RANKING_DRAWS, FIRST_DRAWS = 60, 20
#: the draws are made up to so many times over for the order that is proposed
SETTLED_TIMES = 2


@dataclass(frozen=True)
class ConfidenceGoal:
    """What is asked of an order: sets at a confidence, judged by seeded draws.

    `budget` is what it may cost at most, `spares` discs are to be left over at least.
    """

    asked: float = 0.95
    draws: int = 1000
    seed: int = 0
    workers: int | None = None
    budget: float | None = None
    spares: int = 0


@dataclass(frozen=True)
class JudgedCandidate:
    """A study of one candidate and what the draws say of it."""

    study: Study
    outcome: Outcome = field(default_factory=Outcome.none)

    @property
    def candidate(self) -> Candidate:
        """Return the size and pattern."""
        return self.study.candidate

    @property
    def draws(self) -> int:
        """Deliveries that it was judged by."""
        return len(self.outcome.packs)

    def joined(self, later: Outcome) -> JudgedCandidate:
        """Return it with the outcome of further draws."""
        return replace(self, outcome=joined([self.outcome, later]))

    @property
    def packs(self) -> Quantities:
        """Return the quantities that come into question."""
        return self.study.packs

    @property
    def item(self) -> StockItem:
        """Return the size as it can be bought."""
        return StockItem(self.candidate.size, self.packs.held)

    @cached_property
    def of_set(self) -> Proportion:
        """Chance that one set ends truly within after the work on the bench."""
        return set_chance(self.study)

    @property
    def matched(self) -> float:
        """Chance that all sets do."""
        return float(self.of_set.share**self.study.clutch.sets)

    def wanted(self, asked: float) -> float:
        """Proportion of deliveries that must be dealt on target for the asked confidence."""
        return asked / self.matched if self.matched else np.inf

    def does(self, goal: ConfidenceGoal) -> int:
        """Fewest packs with which the promise is kept, or NEVER."""
        wanted = self.wanted(goal.asked)
        if wanted > 1 or not self.draws:
            return NEVER
        found = smallest(self.outcome.packs, wanted)
        spared = -(-(self.study.needed + goal.spares - self.packs.held) // self.packs.pack)
        return max(found, spared)

    def cart(self, goal: ConfidenceGoal) -> Cart | None:
        """Return the cheapest cart that keeps the promise within the budget."""
        found = self.does(goal)
        if found == NEVER:
            return None
        return cheapest_cart(self.item, self.packs.discs(found), goal.budget)

    def promise(self, packs: int) -> Proportion:
        """Return the promise of so many packs, in doubt by the draws and by the bench."""
        of_sets = self.of_set.all_of(self.study.clutch.sets)
        return confidence(self.outcome.packs, packs).both(of_sets)

    def by_draws(self, packs: int) -> Proportion:
        """Return the promise of so many packs in so far as more draws would change it."""
        return confidence(self.outcome.packs, packs).times(self.matched)

    def hopeless(self, goal: ConfidenceGoal) -> bool:
        """Whether the draws so far say that no quantity keeps the promise."""
        return self.by_draws(self.packs.most).high < goal.asked

    def least_cost(self, goal: ConfidenceGoal) -> float:
        """Cost of the fewest packs that may keep the promise, as far as the draws tell."""
        packs = self.packs
        found = least_that(lambda k: self.by_draws(k).high >= goal.asked, packs.least, packs.most)
        bought = (
            None
            if found == NEVER
            else cheapest_cart(self.item, self.packs.discs(found), goal.budget)
        )
        return np.inf if bought is None else bought.cost

    def rank(self, goal: ConfidenceGoal) -> tuple[float, float]:
        """Cost of the cheapest cart; where there is none, the best promise of any quantity."""
        bought = self.cart(goal)
        if bought is None:
            return np.inf, -self.promise(self.packs.most).share
        return bought.cost, float(self.candidate.pattern.discs)


def judge(
    clutch: OrderedClutch,
    sizes: tuple[Size, ...],
    making: Manufacture,
    on_hand: dict[str, OnHand],
    goal: ConfidenceGoal,
    report: Report = quiet,
) -> list[JudgedCandidate]:
    """Rank a shortlist by a few draws, its head by all of them, and settle the first.

    Raises
    ------
    CannotBuildError
        when no size and pattern reaches the target within its limits.
    Stopped
        on Ctrl-C; says what was known by then.
    """
    every = able(sizes, clutch, making)

    def ranked(some: list[JudgedCandidate]) -> list[JudgedCandidate]:
        return sorted(some, key=lambda j: j.rank(goal))

    studies = [Study.of(clutch, c, making, on_hand) for c in every]
    few = min(RANKING_DRAWS, goal.draws)
    first = min(FIRST_DRAWS, few)
    short = _shortlist([JudgedCandidate(study) for study in studies], goal)
    short = more(short, first, goal, report)
    short = more(short, few - first, goal, _beside(report, so_far(short, goal)))
    found = ranked(short)[:FINALISTS]
    while (asks := next((j for j in found if undecided(j, found[0], goal)), None)) is not None:
        left = SETTLED_TIMES * goal.draws - asks.draws
        draws = min(goal.draws, 2 * asks.draws, left)
        [judged] = more([asks], draws, goal, _beside(report, so_far(found, goal)))
        found = ranked([judged if j is asks else j for j in found])
    return found


def undecided(judged: JudgedCandidate, first: JudgedCandidate, goal: ConfidenceGoal) -> bool:
    """Tell whether more draws of a candidate could change what is bought.

    The first is drawn until its quantity is told from the next smaller one, or `SETTLED_TIMES`
    over: the smallest quantity that passes is the lucky one of its draws where the curve is flat.
    Another one while it might turn out cheaper.
    """
    if judged.hopeless(goal):
        return False
    if judged is first:
        enough = judged.draws >= goal.draws and _told(judged, goal)
        return not enough and judged.draws < SETTLED_TIMES * goal.draws
    return judged.draws < goal.draws and judged.least_cost(goal) < first.rank(goal)[0]


def _told(judged: JudgedCandidate, goal: ConfidenceGoal) -> bool:
    """Tell whether the intervals say that the quantity does and one pack less does not."""
    at = judged.does(goal)
    if at == NEVER:
        return False
    less = at == judged.packs.least or judged.by_draws(at - 1).high < goal.asked
    return less and judged.by_draws(at).low >= goal.asked


def more(
    some: list[JudgedCandidate], draws: int, goal: ConfidenceGoal, report: Report = quiet
) -> list[JudgedCandidate]:
    """Judge candidates, all of them judged by equally many draws so far, by some more.

    Those of one size are judged together, as they share their deliveries.
    """
    if draws <= 0:
        return some
    groups: dict[Size, list[JudgedCandidate]] = {}
    for j in some:
        groups.setdefault(j.candidate.size, []).append(j)
    studies = [tuple(j.study for j in group) for group in groups.values()]

    def with_outcomes(outcomes: list[list[Outcome]]) -> list[JudgedCandidate]:
        return [
            j.joined(outcome)
            for group, of_study in zip(groups.values(), outcomes, strict=True)
            for j, outcome in zip(group, of_study, strict=True)
        ]

    try:
        outcomes = simulate(studies, draws, goal.seed, goal.workers, report, some[0].draws)
    except Stopped as stop:
        known = with_outcomes(stop.outcomes) if stop.outcomes else some
        raise Stopped(said_so_far(known, goal)) from None
    return with_outcomes(outcomes)


def said_so_far(some: list[JudgedCandidate], goal: ConfidenceGoal) -> str:
    """Say what is known of the best candidate when the draws are broken off."""
    if not some[0].draws:
        return "Stopped; nothing was written."
    return f"Stopped; nothing was written. {so_far(some, goal)}"


def so_far(some: list[JudgedCandidate], goal: ConfidenceGoal) -> str:
    """Say what the draws made so far would buy, with the interval of its promise and its cost.

    Beside the cost stands the least that may turn out to do.
    """
    best = min(some, key=lambda j: j.rank(goal))
    bought, after = best.cart(goal), f"After {best.draws} deliveries:"
    if bought is None:
        packs = plateau(best.outcome.packs, best.packs.most)
        share = best.promise(packs)
        discs = f"{best.packs.discs(packs)} discs of {best.candidate.size.name}"
        often = f"do in {share.low:.0%} to {share.high:.0%}"
        return f"{after} no quantity keeps {goal.asked:.0%} so far; {discs} {often}."
    share = best.promise(best.does(goal))
    packs_of = " + ".join(f"{b.packs} x {b.offer.pack}" for b in bought.bought) or "no"
    cost, size, least = "", best.candidate.size, min(j.least_cost(goal) for j in some)
    if size.priced and bought.bought:
        cost = f" for {bought.cost:.2f} {size.currency}".rstrip()
        cost += f" (at least {least:.2f})" if least < bought.cost else ""
    often = f"does in {share.low:.0%} to {share.high:.0%}"
    return f"{after} BUY {packs_of} discs of {size.name}{cost}; {often}."


def _beside(report: Report, told: str) -> Report:
    """Report the stage with what is known so far before it."""
    return lambda stage, share: report(f"{told} {stage}", share)


def _shortlist(every: list[JudgedCandidate], goal: ConfidenceGoal) -> list[JudgedCandidate]:
    """The first few; those that hang loose at rest only where none presses.

    Where the bench can match no candidate surely enough, of those that it matches best.
    """
    pressing = [j for j in every if not j.candidate.gap_mm] or every
    matching = [j for j in pressing if j.matched >= goal.asked]
    if not matching:
        best = max(j.of_set.share for j in pressing)
        return [j for j in pressing if j.of_set.share >= NEAR * best][:FEW]
    taken: list[JudgedCandidate] = []
    for judged in matching:
        same = sum(j.candidate.size.name == judged.candidate.size.name for j in taken)
        if same < OF_ONE_SIZE and len(taken) < SHORTLIST:
            taken.append(judged)
    return taken
