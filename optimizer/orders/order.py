"""Plan an order: which size, which pattern, how many packs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer import __version__
from optimizer.assignment.limits import Report, quiet
from optimizer.errors import CannotBuildError, Problem
from optimizer.orders.catalog import Catalog, Size
from optimizer.orders.choose import Ware
from optimizer.orders.clutch import Clutch
from optimizer.orders.deliver import Making
from optimizer.orders.document import SCHEMA, ClutchOrder, Joint, Line, Option, Order, Point, Use
from optimizer.orders.joint import Way, join
from optimizer.orders.nominal import Candidate, candidates
from optimizer.orders.onhand import OnHand, none_on_hand
from optimizer.orders.quantity import NEVER, Packs, confidence, smallest
from optimizer.orders.simulate import Outcome, Study, sample_packs, simulate
from optimizer.orders.steps import steps

#: candidates looked at, of which at most so many are of one size; and those judged by all draws
SHORTLIST, OF_ONE_SIZE, FINALISTS = 8, 3, 3
#: draws by which the shortlist is ranked
RANKING_DRAWS = 60
#: points of the curve of confidence against quantity
CURVE_POINTS = 24
#: options of each clutch that a joint order may be made of
JOINED = 3


@dataclass(frozen=True)
class Wish:
    """What is asked of an order: sets at a confidence, judged by seeded draws."""

    asked: float = 0.95
    draws: int = 1000
    seed: int = 0
    workers: int | None = None


@dataclass(frozen=True)
class Judged:
    """A candidate with its study and what the draws say."""

    study: Study
    candidate: Candidate
    outcome: Outcome

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


def plan_order(
    clutches: Sequence[Clutch],
    catalog: Catalog,
    sizes: tuple[Size, ...],
    making: Making,
    on_hand: dict[str, OnHand],
    wish: Wish,
    units: str,
    warnings: tuple[str, ...] = (),
    report: Report = quiet,
) -> Order:
    """Plan the cheapest order with which every set can be built at the asked confidence.

    Parameters
    ----------
    clutches : what is to be built; discs on hand count for the first
    sizes : the sizes of the catalog that fit
    on_hand : discs on hand by the name of their size

    Raises
    ------
    CannotBuildError
        when no size and pattern reaches a clutch's target within its limits.
    """
    judged = []
    for at, clutch in enumerate(clutches):
        held = on_hand if at == 0 else {}
        judged.append(_judge(clutch, sizes, making, held, wish, report))
    priced = all(j.candidate.size.price is not None for of_clutch in judged for j in of_clutch)
    return Order(
        schema=SCHEMA,
        version=__version__,
        units=units,
        catalog=catalog.path.name,
        currency=next((s.currency for s in sizes if s.price is not None), "") if priced else "",
        asked=wish.asked,
        draws=wish.draws,
        seed=wish.seed,
        making=making,
        clutches=tuple(
            ClutchOrder(
                clutch.name, clutch.sets, clutch.shoes, clutch.target_n, clutch.load_tolerance_n,
                tuple(option(j, wish.asked, priced) for j in of_clutch),
            )
            for clutch, of_clutch in zip(clutches, judged, strict=True)
        ),
        joint=_joint(judged, wish, priced, report),
        warnings=(*catalog.warnings, *warnings),
    )  # fmt: skip


def _judge(
    clutch: Clutch,
    sizes: tuple[Size, ...],
    making: Making,
    on_hand: dict[str, OnHand],
    wish: Wish,
    report: Report,
) -> list[Judged]:
    """Rank a shortlist by a few draws and its head by all of them."""
    every = _shortlist(candidates(sizes, clutch, making))
    if not every:
        raise CannotBuildError(
            Problem(
                f"No size of the catalog reaches {clutch.target_n:.0f} N within the limits of "
                "deflection, height and stress.",
                clutch.name,
                "Allow more packet_sizes or discs in the job, widen the height window, or give a "
                "catalog with other sizes.",
            )
        )

    def judge(some: list[Candidate], draws: int, first_draw: int) -> list[Judged]:
        by_size: dict[str, list[Candidate]] = {}
        for c in some:
            by_size.setdefault(c.size.name, []).append(c)
        studies = [
            Study(clutch, tuple(group), making, on_hand.get(name, none_on_hand()))
            for name, group in by_size.items()
        ]
        outcomes = simulate(studies, draws, wish.seed, wish.workers, report, first_draw)
        return [
            Judged(study, candidate, outcome)
            for study, of_study in zip(studies, outcomes, strict=True)
            for candidate, outcome in zip(study.candidates, of_study, strict=True)
        ]

    few = min(RANKING_DRAWS, wish.draws)
    ranked = sorted(judge(every, few, 0), key=lambda j: j.rank(wish.asked))[:FINALISTS]
    if wish.draws > few:
        more = judge([j.candidate for j in ranked], wish.draws - few, few)
        before = {(j.candidate.size.name, j.candidate.pattern): j.outcome for j in ranked}
        ranked = [
            Judged(
                j.study,
                j.candidate,
                Outcome.joined([before[j.candidate.size.name, j.candidate.pattern], j.outcome]),
            )
            for j in more
        ]
    return sorted(ranked, key=lambda j: j.rank(wish.asked))


def _shortlist(every: list[Candidate]) -> list[Candidate]:
    taken: list[Candidate] = []
    for candidate in every:
        same = sum(c.size.name == candidate.size.name for c in taken)
        if same < OF_ONE_SIZE and len(taken) < SHORTLIST:
            taken.append(candidate)
    return taken


def option(judged: Judged, asked: float, priced: bool) -> Option:
    """Write what the draws say of a candidate."""
    candidate, outcome, packs = judged.candidate, judged.outcome, judged.packs
    needed = candidate.pattern.discs * judged.study.clutch.shoes * judged.study.clutch.sets
    found = smallest(outcome.packs, asked)
    at = packs.most if found == NEVER else found
    size = candidate.size
    near = np.abs(outcome.error_n) <= judged.study.clutch.load_tolerance_n
    built = outcome.spread_n[~np.isnan(outcome.spread_n)]
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
        cost=None if found == NEVER or not priced else cost_of(size, found),
        lead_days=size.lead_days,
        confidence=confidence(outcome.packs, at),
        blind=confidence(outcome.blind_packs, at),
        blind_most=confidence(np.where(near, 0, NEVER), 0),
        spread_n=float(built.mean()) if len(built) else float("nan"),
        curve=_curve(judged, at, priced),
        steps=steps(outcome, packs, needed, sample_packs(candidate), asked),
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


def _joint(judged: list[list[Judged]], wish: Wish, priced: bool, report: Report) -> Joint | None:
    """Order for all clutches at once, or of two sizes; None where it saves nothing."""
    few = [of_clutch[:JOINED] for of_clutch in judged]
    sizes = list(dict.fromkeys(j.candidate.size for of_clutch in few for j in of_clutch))
    if len(few) == 1 and len(sizes) == 1:
        return None
    ways = tuple(
        Way(Study(j.study.clutch, (j.candidate,), j.study.making, _own(j, sizes)), at, lot)
        for at, of_clutch in enumerate(few)
        for j in of_clutch
        for lot in [sizes.index(j.candidate.size)]
    )
    held = {way.lot: len(way.study.on_hand) for way in ways if way.clutch == 0}
    wares = tuple(
        Ware(size.pack, cost_of(size, 1), held.get(at, 0)) for at, size in enumerate(sizes)
    )
    sets = tuple(of_clutch[0].study.clutch.sets for of_clutch in few)
    alone = judged[0][0].rank(wish.asked)[0] if len(few) == 1 else np.inf
    chosen = join(ways, wares, sets, wish.asked, wish.draws, wish.seed, wish.workers, report, alone)
    if chosen is None:
        return None
    bought = chosen.choice.packs
    return Joint(
        lines=tuple(
            Line(size.name, k, k * size.pack, ware.held, k * ware.cost if priced else None)
            for size, ware, k in zip(sizes, wares, bought, strict=True)
            if k
        ),
        uses=tuple(
            Use(
                way.study.clutch.name, way.candidate.size.name, str(way.candidate.pattern),
                n, way.candidate.pattern.discs * way.study.clutch.shoes * n,
            )
            for way, n in zip(ways, chosen.choice.sets, strict=True)
            if n
        ),
        cost=chosen.choice.cost if priced else None,
        confidence=chosen.confidence,
        left_discs=sum(chosen.discs)
        - sum(
            way.candidate.pattern.discs * way.study.clutch.shoes * n
            for way, n in zip(ways, chosen.choice.sets, strict=True)
        ),
    )  # fmt: skip


def _own(judged: Judged, sizes: list[Size]) -> OnHand:
    """Discs on hand that count for a size: not again for the same size in another pack."""

    def shape(size: Size) -> tuple[float, ...]:
        return size.od_mm, size.id_mm, size.thickness_mm, size.cone_height_mm

    size = judged.candidate.size
    foremost = next(other for other in sizes if shape(other) == shape(size))
    return judged.study.on_hand if foremost == size else none_on_hand()
