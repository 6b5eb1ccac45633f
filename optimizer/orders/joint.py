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
from optimizer.mechanics.disc import Array
from optimizer.orders.build import DiscStream, build, disc_streams, on_target
from optimizer.orders.choose import Cart, Demand, StockItem, choose
from optimizer.orders.judging import ConfidenceGoal
from optimizer.orders.like_discs import like_constants
from optimizer.orders.quantity import NEVER, Proportion, least_that, smallest
from optimizer.orders.simulate import CHUNK
from optimizer.orders.study import MOST_TIMES, Study
from optimizer.orders.unpack import DEALING, DeliveryDraw, learned_factor, unpack

#: draws that tell how many discs a part wants, and times a choice is made with more care
TABLE_DRAWS, ROUNDS = 200, 5
#: the worst set of a part is hardly ever more deviations off the mean of all of them
MARGIN_SD = 2.5


@dataclass(frozen=True)
class JointPart:
    """A part of a joint order: a study, of which clutch it is, and which lot it comes from.

    `chance` is that of one of its sets to end truly within after the work on the bench.
    """

    study: Study
    clutch: int
    lot: int
    chance: float = 1.0


@dataclass(frozen=True)
class JointChoice:
    """A joint order with the discs each part gets and its confidence as a whole."""

    cart: Cart
    discs: tuple[int, ...]
    confidence: Proportion


def needs(part: JointPart, seed: int, numbers: range) -> Array:
    """Discs that 1, 2, ... sets want, draw by draw: (draws, sets), inf where none do."""
    study = part.study
    clutch, pattern = study.clutch, study.candidate.pattern
    most = int(MOST_TIMES * study.needed)
    table = np.empty((len(numbers), clutch.sets))
    for row, number in enumerate(numbers):
        draw = DeliveryDraw(seed, number, part.lot)
        on = lay_out(study, draw, max(most - len(study.on_hand), 1))
        for sets in range(1, clutch.sets + 1):
            table[row, sets - 1] = _fewest_discs(on, clutch.discs(pattern, sets), most)
    return table


def _fewest_discs(on: DiscStream, needed: int, most: int) -> float:
    margin = MARGIN_SD * on.scatter_n
    found = least_that(lambda count: on.may_do(count, (-margin, margin), needed), needed, most)
    return np.inf if found == NEVER else found


def lay_out(study: Study, draw: DeliveryDraw, count: int) -> DiscStream:
    """Unpack a lot for a study and learn its factor on the gauge."""
    unpacked = unpack(study, draw, count)
    factor = learned_factor(study, unpacked, draw)
    like = like_constants(study, unpacked, set(study.candidate.pattern.sizes), factor)
    return disc_streams(study, unpacked, like, factor)[0]


def wanted(table: Array, asked: float) -> tuple[float, ...]:
    """Discs for 0, 1, ... sets at a confidence, from the table of `needs`."""
    counted = np.where(np.isfinite(table), table, NEVER).astype(np.intp)
    at = [smallest(column, asked) for column in counted.T]
    return (0.0, *(np.inf if n == NEVER else float(n) for n in at))


def complete(
    parts: tuple[JointPart, ...],
    sets: tuple[int, ...],
    discs: tuple[int, ...],
    seed: int,
    numbers: range,
) -> int:
    """Count the draws in which every part builds its sets from its share of the discs.

    Parts of one lot take their shares from the same stream, one after the other.
    """
    good = 0
    for number in numbers:
        good += all(
            _lot_does(
                [w for w in range(len(parts)) if parts[w].lot == lot and sets[w]],
                parts,
                sets,
                discs,
                DeliveryDraw(seed, number, lot),
            )
            for lot in sorted({w.lot for w, n in zip(parts, sets, strict=True) if n})
        )
    return good


def _lot_does(
    at: list[int],
    parts: tuple[JointPart, ...],
    sets: tuple[int, ...],
    discs: tuple[int, ...],
    draw: DeliveryDraw,
) -> bool:
    held = len(parts[at[0]].study.on_hand)
    start = 0
    for w in at:
        part = parts[w]
        least = part.study.candidate.pattern.discs
        on = lay_out(part.study, draw, max(start + discs[w] - held, least))
        few = replace(part.study, clutch=replace(part.study.clutch, sets=sets[w]))
        rows = slice(start, start + discs[w])
        share = replace(
            on,
            study=few,
            constant_n=on.constant_n[rows],
            true_constant_n=on.true_constant_n[rows],
            unpacked=on.unpacked.take(rows),
        )
        if not on_target(build(share, discs[w], draw.rng(DEALING, w)), few.clutch):
            return False
        start += discs[w]
    return True


def join(
    parts: tuple[JointPart, ...],
    items: tuple[StockItem, ...],
    sets: tuple[int, ...],
    goal: ConfidenceGoal,
    report: Report = quiet,
) -> JointChoice | None:
    """Choose the cheapest joint order that keeps the asked confidence as a whole.

    Returns None when no order does within the budget.
    """
    from joblib import Parallel, delayed

    matched = 1.0
    for clutch, count in enumerate(sets):
        matched *= max(part.chance for part in parts if part.clutch == clutch) ** count
    if matched < goal.asked:
        return None
    asked, draws, seed = goal.asked, goal.draws, goal.seed
    table_draws = min(draws, TABLE_DRAWS)
    tables = Parallel(n_jobs=goal.workers or -1)(
        delayed(needs)(part, seed, range(table_draws)) for part in parts
    )
    ranges = [range(low, min(low + CHUNK, draws)) for low in range(0, draws, CHUNK)]

    def judged(cart: Cart, demands: tuple[Demand, ...]) -> JointChoice:
        shares = _shares(demands, items, cart)
        counts = Parallel(n_jobs=goal.workers or -1)(
            delayed(complete)(parts, cart.sets, shares, seed, numbers) for numbers in ranges
        )
        chance = float(np.prod([w.chance**n for w, n in zip(parts, cart.sets, strict=True)]))
        return JointChoice(cart, shares, Proportion.of(int(sum(counts)), draws).times(chance))

    risk = 1 - asked / matched
    last: tuple[Cart, tuple[Demand, ...]] | None = None
    for turn in range(ROUNDS):
        report("joining sizes and clutches", turn / ROUNDS)
        demands = tuple(
            Demand(part.clutch, part.lot, wanted(table, 1 - risk))
            for part, table in zip(parts, tables, strict=True)
        )
        cart = choose(demands, items, sets, budget=goal.budget)
        if cart is None and last is not None:  # the same sets from more discs
            before, demands = last
            cart = _more(before, items, goal.budget)
        if cart is None:
            return None
        last = cart, demands
        chosen = judged(cart, demands)
        if chosen.confidence.share >= asked:
            return chosen
        risk /= 2
    return None


def _more(cart: Cart, items: tuple[StockItem, ...], budget: float | None) -> Cart | None:
    """Return the same sets with at least one disc more of every item bought, at least cost."""
    wanted = {b.item: items[b.item].held + cart.discs(b.item) + 1 for b in cart.bought}
    demands = [Demand(at, w, (0.0, float(discs))) for at, (w, discs) in enumerate(wanted.items())]
    more = choose(demands, items, (1,) * len(demands), len(demands), budget)
    return None if more is None else Cart(cart.sets, more.bought, more.cost)


def _shares(
    demands: tuple[Demand, ...], items: tuple[StockItem, ...], cart: Cart
) -> tuple[int, ...]:
    """Discs that each demand may take; what is over of an item is divided by need."""
    shares = [0] * len(demands)
    for s, item in enumerate(items):
        users = [p for p, demand in enumerate(demands) if demand.item == s and cart.sets[p]]
        over = item.held + cart.discs(s)
        over -= sum(int(demands[p].discs[cart.sets[p]]) for p in users)
        for at, p in enumerate(users):
            extra = over // (len(users) - at)
            shares[p] = int(demands[p].discs[cart.sets[p]]) + extra
            over -= extra
    return tuple(shares)
