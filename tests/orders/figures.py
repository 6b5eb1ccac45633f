"""Are the confidences of an order kept, and what does it cost beside other ways of buying?

    python -m tests.orders.figures [--fresh N] [--workers N] [FILE]

prints the tables of RESULTS.md and writes them to FILE: some ten minutes of one core's time.
Orders are planned, then judged by fresh deliveries of a seed never used in planning, every set
dealt in full. What is checked is how often all sets are dealt and on target; that they end truly
within after the work on the bench is checked by `python -m tests.orders.promises`.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed

from optimizer.model.catalog import Offer, Supplier
from optimizer.model.pattern import Pattern
from optimizer.orders.build import build, on_target
from optimizer.orders.choose import Cart, StockItem, cheapest_cart, price_of
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.joint import JointChoice, JointPart, complete, join, lay_out
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, more, undecided
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate
from optimizer.orders.onhand import none_on_hand
from optimizer.orders.quantity import NEVER, Proportion
from optimizer.orders.study import Study
from optimizer.orders.unpack import DEALING, DeliveryDraw
from tests.orders.cases import KART, candidate, clutch, installed, size

ASKED = 0.95
WISH = ConfidenceGoal(ASKED, draws=1000, seed=0)
FRESH_SEED, FRESH_DRAWS = 20260401, 3000
CHUNK = 50
#: a spread that is always kept, so that the promise is that of dealing and load alone
ANY_N = 500.0
#: by how much an installed room is longer than a nominal stack wants, and the shims for it
SPARE_MM, SHIMS_MM = 0.1, (0.0, 0.05, 0.1, 0.15, 0.2)
#: lots that scatter twice as far as is usually assumed
WIDE = replace(Manufacture(), lot_share=1.0)
#: carts drawn at random, and how many discs more than are wanted they hold at most
CARTS, MOST_OVER = 100, 1.3
#: an invented shop: packs of 10, 25 and 50, price breaks, and another supplier who delivers dear
OTHER = Supplier("other", delivery=12.0, minimum=40.0)
SHOP = (
    Offer("S", 10, 4.40), Offer("S", 25, 10.00), Offer("S", 50, 19.00), Offer("S", 50, 17.00, 6),
    Offer("S", 20, 7.20, supplier=OTHER), Offer("S", 100, 31.00, supplier=OTHER),
)  # fmt: skip


@dataclass(frozen=True)
class Scenario:
    """What is bought, and for what; `truly` where the maker is not as was assumed."""

    name: str
    study: Study
    truly: Study | None = None


def scenario(
    name: str, sets: int, tolerance_n: float, of: str, pattern: Pattern, pack: int,
    making: Manufacture | None = None,
) -> Scenario:  # fmt: skip
    making, to = making or Manufacture(), clutch(sets, tolerance_n, spread_n=ANY_N)
    chosen = candidate(size(of, pack), pattern, to, making)
    return Scenario(name, Study(to, chosen, making, none_on_hand()))


def in_a_room(
    name: str, tolerance_n: float, spare_mm: float, shims_mm: tuple[float, ...], pattern: Pattern
) -> Scenario:
    of = installed(spare_mm, shims_mm)
    to = replace(of.clutch, spread_n=ANY_N, load_tolerance_n=tolerance_n)
    chosen = candidate(of.candidate.size, pattern, to, of.making)
    return Scenario(name, replace(of, clutch=to, candidate=chosen))


def scenarios() -> list[Scenario]:
    ten = ("10 sets, 7 singles + 1 pair, +- 22 N", 10, 22.0, "V18-100", KART)
    plain = scenario(*ten, 50)
    return [
        plain,
        scenario("the same in packs of 10", *ten[1:], 10),
        scenario("4 sets, 9 singles + 1 pair, +- 30 N", 4, 30.0, "V22-125", Pattern(9, 1), 10),
        scenario("6 sets, 8 singles, nominal 20 N off", 6, 36.0, "V20-110", Pattern(8), 10),
        in_a_room("4 sets of 9 singles in a room, +- 36 N", 36.0, 0.0, (0.0,), Pattern(9)),
        in_a_room("the same, +- 22 N, shims by 0.05 mm", 22.0, SPARE_MM, SHIMS_MM, Pattern(9)),
        Scenario(
            "10 sets as above, lots scatter twice as far, not as assumed",
            plain.study,
            replace(plain.study, making=WIDE),
        ),
        scenario("the same lots, planned with --lot-share 1", *ten[1:], 50, WIDE),
    ]


def fresh(study: Study, quantities: list[int], numbers: range) -> np.ndarray:
    """Tell which fresh deliveries do, dealt in full: (draws, quantities)."""
    packs = study.packs
    good = np.zeros((len(numbers), len(quantities)), dtype=bool)
    for row, number in zip(good, numbers, strict=True):
        draw = DeliveryDraw(FRESH_SEED, number)
        on = lay_out(study, draw, max(quantities) * packs.pack)
        for at, k in enumerate(quantities):
            built = build(on, packs.discs(k), draw.rng(DEALING, k)) if k >= packs.least else None
            row[at] = on_target(built, study.clutch)
    return good


def ranges(draws: int) -> list[range]:
    return [range(low, min(low + CHUNK, draws)) for low in range(0, draws, CHUNK)]


def check(study: Study, quantities: list[int], draws: int, workers: int = -1) -> list[Proportion]:
    parts = Parallel(n_jobs=workers)(
        delayed(fresh)(study, quantities, numbers) for numbers in ranges(draws)
    )
    return [Proportion.of(int(n), draws) for n in np.concatenate(parts).sum(0)]


def planned(study: Study, workers: int) -> JudgedCandidate:
    """Judge a study, with nothing on hand, as `evenstack order` judges the one it proposes."""
    return _planned(study.clutch, study.candidate, study.making, workers)


@cache
def _planned(
    to: OrderedClutch, chosen: tuple[Candidate, ...], making: Manufacture, workers: int
) -> JudgedCandidate:
    goal = replace(WISH, workers=workers)
    [judged] = more([JudgedCandidate(Study(to, chosen, making, none_on_hand()))], goal.draws, goal)
    while undecided(judged, judged, goal):
        [judged] = more([judged], goal.draws, goal)
    return judged


def said(share: Proportion) -> str:
    return f"{share.share:.1%} ({share.low:.1%} to {share.high:.1%})"


def off(promised: Proportion, planned_by: int, kept: Proportion, fresh_by: int) -> str:
    """Tell the difference in points, and whether chance explains it at 95 %.

    Two shares of independent draws: the band is that of their difference were the share that was
    promised true (normal, both counts).
    """
    p = promised.share
    band = 1.96 * np.sqrt(p * (1 - p) * (1 / planned_by + 1 / fresh_by))
    apart = kept.share - p
    return f"{100 * apart:+.1f}, {'yes' if abs(apart) <= band else 'NO'} ({100 * band:.1f})"


def confidences(draws: int, workers: int) -> Iterator[str]:
    yield from (
        f"Planned with {WISH.draws} deliveries of seed {WISH.seed} for {ASKED:.0%}, and twice as "
        f"many where those cannot tell the quantity from one pack less; judged by {draws} of seed "
        f"{FRESH_SEED}. Inside: kept less promised in points, and whether chance alone explains it "
        "(in brackets the half width of the 95 % band of such a difference).",
        "",
        "| scenario | packs | promised | kept | inside | one pack less: promised | kept |",
        "|---|---|---|---|---|---|---|",
    )
    for of in scenarios():
        judged = planned(of.study, workers)
        at = judged.does(WISH)
        if at == NEVER:
            most = judged.promise(judged.packs.most)
            yield f"| {of.name} | none does | at most {said(most)} | | | | |"
            continue
        kept, less = check(of.truly or of.study, [at, at - 1], draws, workers)
        own = judged.promise(at)
        yield (
            f"| {of.name} | {at} of {judged.packs.pack} | {said(own)} | {said(kept)} | "
            f"{off(own, judged.draws, kept, draws)} | {said(judged.promise(at - 1))} | "
            f"{said(less)} |"
        )
    yield joined(draws, workers)


def joined(draws: int, workers: int) -> str:
    """Two clutches of two sizes in one order, each lot a draw of its own."""
    parts = [
        scenario("", 4, 22.0, "V18-100", KART, 10).study,
        scenario("", 4, 30.0, "V22-125", Pattern(9, 1), 10).study,
    ]
    ways = tuple(JointPart(study, at, at) for at, study in enumerate(parts))
    items = tuple(StockItem(study.candidate.size) for study in parts)
    chosen = join(ways, items, (4, 4), replace(WISH, workers=workers))
    assert chosen is not None
    kept = complete_share(ways, chosen, chosen.discs, draws, workers)
    fewer = tuple(discs - 10 * (at == 0) for at, discs in enumerate(chosen.discs))
    less = complete_share(ways, chosen, fewer, draws, workers)
    packs = " + ".join(f"{b.packs} of {b.offer.pack}" for b in chosen.cart.bought)
    own = chosen.confidence
    return (
        f"| 4 + 4 sets of two sizes in one order | {packs} | {said(own)} | {said(kept)} | "
        f"{off(own, WISH.draws, kept, draws)} | | {said(less)} |"
    )


def complete_share(
    ways: tuple[JointPart, ...],
    chosen: JointChoice,
    discs: tuple[int, ...],
    draws: int,
    workers: int,
) -> Proportion:
    counts = Parallel(n_jobs=workers)(
        delayed(complete)(ways, chosen.cart.sets, discs, FRESH_SEED, numbers)
        for numbers in ranges(draws)
    )
    return Proportion.of(int(sum(counts)), draws)


def costs(draws: int, workers: int) -> Iterator[str]:
    yield from (
        "The first orders again from an invented shop (packs of 10, 25 and 50, a price break from "
        "six packs of 50, a second supplier with packs of 20 and 100 who takes 12 for delivery and "
        f"sends no less than 40): cheapest, the dearest and the best of {CARTS} random carts that "
        "keep the promise, and half as many discs again as the stacks need, bought as cheaply "
        "as can be; kept is the share of the fresh deliveries in which these do.",
        "",
        f"| order | discs | cost | random carts: dearest, best of {CARTS} | half as many again: "
        "discs | cost | kept |",
        "|---|---|---|---|---|---|---|",
    )
    for of in scenarios()[1:4]:
        judged = planned(of.study, workers)
        wanted = judged.packs.discs(judged.does(WISH))
        item = StockItem(replace(judged.candidate.size, offers=SHOP))
        best, rule = cheapest_cart(item, wanted), -(-3 * judged.study.needed // 20) * 10
        thumb = cheapest_cart(item, rule)
        assert best is not None
        assert thumb is not None
        [kept] = check(of.study, [rule // 10], draws, workers)
        rng = np.random.default_rng(0)
        drawn = [random_cart(wanted, rng) for _ in range(CARTS)]
        yield (
            f"| {of.name} | {bought(best)} | {best.cost:.2f} | {max(drawn):.2f}, {min(drawn):.2f} "
            f"| {rule} | {thumb.cost:.2f} | {said(kept)} |"
        )


def bought(cart: Cart) -> str:
    packs = " + ".join(f"{b.packs} of {b.offer.pack}" for b in cart.bought)
    return f"{cart.discs(0)}: {packs}"


def random_cart(wanted: int, rng: np.random.Generator) -> float:
    """Cost of packs taken at random from one supplier until there are enough."""
    while True:
        supplier = SHOP[rng.integers(len(SHOP))].supplier
        kinds = sorted({o.pack for o in SHOP if o.supplier == supplier})
        counts = dict.fromkeys(kinds, 0)
        while (discs := sum(pack * n for pack, n in counts.items())) < wanted:
            counts[kinds[rng.integers(len(kinds))]] += 1
        goods = sum(
            n * min(price_of(o) for o in SHOP if (o.supplier, o.pack) == (supplier, pack)
                    and o.from_packs <= n)
            for pack, n in counts.items()
            if n
        )  # fmt: skip
        if discs <= MOST_OVER * wanted and goods >= supplier.minimum:
            return goods + supplier.delivery


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("file", type=Path, nargs="?")
    parser.add_argument("--fresh", type=int, default=FRESH_DRAWS)
    parser.add_argument("--workers", type=int, default=-1)
    given = parser.parse_args()
    lines: list[str] = []
    for title, table in (("Fresh deliveries", confidences), ("Cost", costs)):
        lines += [f"## {title}", ""]
        for line in table(given.fresh, given.workers):
            lines.append(line)
            print(line, flush=True)
        lines.append("")
    if given.file is not None:
        given.file.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
