"""One order for several clutches, or of two sizes: chosen by bound, judged by dealing.

The integer programme needs the discs that each part of an order wants for every number of
sets. These come from the bound of the draws already made, at a confidence high enough that
all parts together keep the asked one; the chosen order is then dealt in full, every part
from its own share of the discs, and chosen anew with more care where that falls short.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.control import Report, quiet
from optimizer.frozen import taken
from optimizer.mechanics.disc import Array
from optimizer.orders.build import DiscStream, alike, benches, build, on_target
from optimizer.orders.choose import Choice, Part, Ware, choose
from optimizer.orders.judging import ConfidenceGoal
from optimizer.orders.nominal import Candidate
from optimizer.orders.quantity import NEVER, Proportion, first, smallest
from optimizer.orders.simulate import CHUNK
from optimizer.orders.study import MOST_TIMES, Study
from optimizer.orders.unpack import DEALING, Draw, learned_factor, unpack

#: draws that tell how many discs a part wants, and times a choice is made with more care
TABLE_DRAWS, ROUNDS = 200, 5
#: the worst set of a part is hardly ever more deviations off the mean of all of them
MARGIN_SD = 2.5


@dataclass(frozen=True)
class JointPart:
    """A part of a joint order: a study with one candidate, and which lot it comes from.

    `chance` is that of one of its sets to end truly within after the work on the bench.
    """

    study: Study
    clutch: int
    lot: int
    chance: float = 1.0

    @property
    def candidate(self) -> Candidate:
        """Return the size and pattern."""
        return self.study.candidates[0]


@dataclass(frozen=True)
class ChosenOrder:
    """A joint order with the discs each way gets and its confidence as a whole."""

    choice: Choice
    discs: tuple[int, ...]
    confidence: Proportion


def needs(way: JointPart, seed: int, numbers: range) -> Array:
    """Discs that 1, 2, ... sets want, draw by draw: (draws, sets), inf where none do."""
    study = way.study
    clutch, pattern = study.clutch, way.candidate.pattern
    most = int(MOST_TIMES * clutch.discs(pattern))
    table = np.empty((len(numbers), clutch.sets))
    for row, number in enumerate(numbers):
        draw = Draw(seed, number, way.lot)
        on = lay_out(study, draw, max(most - len(study.on_hand), 1))
        for sets in range(1, clutch.sets + 1):
            table[row, sets - 1] = _fewest_discs(on, clutch.discs(pattern, sets), most)
    return table


def _fewest_discs(on: DiscStream, needed: int, most: int) -> float:
    margin = MARGIN_SD * on.scatter_n
    found = first(lambda count: on.may_do(count, needed, (-margin, margin)), needed, most)
    return np.inf if found == NEVER else found


def lay_out(study: Study, draw: Draw, count: int) -> DiscStream:
    """Unpack a lot for the one candidate of a study and learn its factor on the gauge."""
    [candidate] = study.candidates
    unpacked = unpack(study, draw, count)
    factor = learned_factor(study, candidate, unpacked, draw)
    like = alike(study, unpacked, set(candidate.pattern.sizes), factor)
    return benches(candidate, study.clutch, unpacked, like, factor)[0]


def wanted(table: Array, asked: float) -> tuple[float, ...]:
    """Discs for 0, 1, ... sets at a confidence, from the table of `needs`."""
    counted = np.where(np.isfinite(table), table, NEVER).astype(np.intp)
    at = [smallest(column, asked) for column in counted.T]
    return (0.0, *(np.inf if n == NEVER else float(n) for n in at))


def complete(
    ways: tuple[JointPart, ...],
    sets: tuple[int, ...],
    discs: tuple[int, ...],
    seed: int,
    numbers: range,
) -> int:
    """Count the draws in which every way builds its sets from its share of the discs.

    Ways of one lot take their shares from the same stream, one after the other.
    """
    good = 0
    for number in numbers:
        good += all(
            _lot_does(
                [w for w in range(len(ways)) if ways[w].lot == lot and sets[w]],
                ways,
                sets,
                discs,
                Draw(seed, number, lot),
            )
            for lot in sorted({w.lot for w, n in zip(ways, sets, strict=True) if n})
        )
    return good


def _lot_does(
    at: list[int],
    ways: tuple[JointPart, ...],
    sets: tuple[int, ...],
    discs: tuple[int, ...],
    draw: Draw,
) -> bool:
    held = len(ways[at[0]].study.on_hand)
    start = 0
    for w in at:
        way = ways[w]
        least = way.candidate.pattern.discs
        on = lay_out(way.study, draw, max(start + discs[w] - held, least))
        few = replace(way.study.clutch, sets=sets[w])
        rows = slice(start, start + discs[w])
        share = replace(
            on,
            clutch=few,
            worth=on.worth[rows],
            true_worth=on.true_worth[rows],
            unpacked=taken(on.unpacked, rows),
        )
        if not on_target(build(share, discs[w], draw.rng(DEALING, w)), few):
            return False
        start += discs[w]
    return True


def join(
    ways: tuple[JointPart, ...],
    wares: tuple[Ware, ...],
    sets: tuple[int, ...],
    goal: ConfidenceGoal,
    report: Report = quiet,
) -> ChosenOrder | None:
    """Choose the cheapest joint order that keeps the asked confidence as a whole.

    Returns None when no order does within the budget.
    """
    from joblib import Parallel, delayed

    matched = 1.0
    for clutch, count in enumerate(sets):
        matched *= max(way.chance for way in ways if way.clutch == clutch) ** count
    if matched < goal.asked:
        return None
    asked, draws, seed = goal.asked, goal.draws, goal.seed
    table_draws = min(draws, TABLE_DRAWS)
    tables = Parallel(n_jobs=goal.workers or -1)(
        delayed(needs)(way, seed, range(table_draws)) for way in ways
    )
    ranges = [range(low, min(low + CHUNK, draws)) for low in range(0, draws, CHUNK)]

    def judged(choice: Choice, parts: tuple[Part, ...]) -> ChosenOrder:
        shares = _shares(parts, wares, choice)
        counts = Parallel(n_jobs=goal.workers or -1)(
            delayed(complete)(ways, choice.sets, shares, seed, numbers) for numbers in ranges
        )
        chance = float(np.prod([w.chance**n for w, n in zip(ways, choice.sets, strict=True)]))
        return ChosenOrder(choice, shares, Proportion.of(int(sum(counts)), draws).times(chance))

    risk = 1 - asked / matched
    last: tuple[Choice, tuple[Part, ...]] | None = None
    for turn in range(ROUNDS):
        report("joining sizes and clutches", turn / ROUNDS)
        parts = tuple(
            Part(way.clutch, way.lot, wanted(table, 1 - risk))
            for way, table in zip(ways, tables, strict=True)
        )
        choice = choose(parts, wares, sets, budget=goal.budget)
        if choice is not None:
            last = choice, parts
        elif last is None:
            return None
        else:
            more = _more(last[0], wares, goal.budget)
            if more is None:
                return None
            choice, parts = more, last[1]
            last = choice, parts
        chosen = judged(choice, parts)
        if chosen.confidence.share >= asked:
            return chosen
        risk /= 2
    return None


def _more(choice: Choice, wares: tuple[Ware, ...], budget: float | None) -> Choice | None:
    """Return the same sets with at least one disc more of every ware bought, at least cost."""
    wanted = {b.ware: wares[b.ware].held + choice.discs(b.ware) + 1 for b in choice.bought}
    parts = [Part(at, w, (0.0, float(discs))) for at, (w, discs) in enumerate(wanted.items())]
    more = choose(parts, wares, (1,) * len(parts), len(parts), budget)
    return None if more is None else Choice(choice.sets, more.bought, more.cost)


def _shares(parts: tuple[Part, ...], wares: tuple[Ware, ...], choice: Choice) -> tuple[int, ...]:
    """Discs that each part may take; what is over of a ware is divided by need."""
    shares = [0] * len(parts)
    for s, ware in enumerate(wares):
        users = [p for p, part in enumerate(parts) if part.ware == s and choice.sets[p]]
        over = ware.held + choice.discs(s)
        over -= sum(int(parts[p].discs[choice.sets[p]]) for p in users)
        for at, p in enumerate(users):
            extra = over // (len(users) - at)
            shares[p] = int(parts[p].discs[choice.sets[p]]) + extra
            over -= extra
    return tuple(shares)
