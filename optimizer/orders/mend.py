"""What would mend an order that no quantity fulfils: the cheapest change, how sure, at what cost.

Whether sets can be matched is a formula, so all changes at the bench are looked at, in pairs
where none alone does. Whether loads come on target is drawn, so of those changes few are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import islice

from optimizer.control import Report, quiet
from optimizer.orders.catalog import Size
from optimizer.orders.choose import cart
from optimizer.orders.document import LEAST_SUITING, Mend
from optimizer.orders.judging import Judged, Wish, more
from optimizer.orders.levers import Changed, loading, matching
from optimizer.orders.nominal import candidates
from optimizer.orders.onhand import OnHand, none_on_hand
from optimizer.orders.option import lines_of, option
from optimizer.orders.quantity import NEVER, plateau
from optimizer.orders.study import Study

#: deliveries that judge a change; changes at the bench that are drawn, and those told
DRAWS, TRIED, TOLD = 60, 3, 4


def mend(
    found: list[Judged],
    sizes: tuple[Size, ...],
    held: dict[str, OnHand],
    wish: Wish,
    report: Report = quiet,
) -> tuple[Mend, ...]:
    """Tell what would mend an order whose options `found` do not do; nothing where one does."""
    best = found[0]
    if best.choice(wish) is not None:
        return ()
    if best.does(wish) != NEVER:
        return _of_money(best, wish)
    report("no quantity does: looking for what would mend it", 0.0)
    at = Changed(best.study.clutch, best.study.making)
    few = replace(wish, draws=min(DRAWS, wish.draws), budget=None)
    told = list(_sampled(best, wish))
    base = [at] if _matched(at, sizes, held) >= wish.asked else _fixed(at, sizes, held, wish)
    for of in base[:TRIED]:
        judged = _judged(of, sizes, held, few)
        if judged is None:
            continue
        if of.changes:
            told.append(_told(of, judged, few))
        if judged.choice(few) is None and of is base[0]:
            told += _on_target(of, sizes, held, few)
    keeps = [m for m in told if m.lines]
    keeps.sort(key=lambda m: (m.cost is None, m.cost or 0.0, len(m.changes)))
    return tuple((keeps or sorted(told, key=lambda m: -m.confidence.share))[:TOLD])


def _fixed(
    at: Changed, sizes: tuple[Size, ...], held: dict[str, OnHand], wish: Wish
) -> list[Changed]:
    """Changes at the bench with which sets end truly within often enough: one, or else two."""
    every = list(matching(at))

    def doing(some: Iterable[Changed]) -> list[Changed]:
        first: dict[frozenset[str], Changed] = {}
        for one in some:
            if one.kinds not in first and _matched(one, sizes, held) >= (1 + wish.asked) / 2:
                first[one.kinds] = one
        return list(first.values())

    pairs = (two for one in every for two in matching(one) if two.kinds != one.kinds)
    return doing(every) or doing(pairs) or every[-1:]


def _on_target(
    of: Changed, sizes: tuple[Size, ...], held: dict[str, OnHand], few: Wish
) -> Iterator[Mend]:
    """Changes of the load that are needed on top of those at the bench."""
    done: set[frozenset[str]] = set()
    for one in loading(of):
        if one.kinds in done:
            continue
        judged = _judged(one, sizes, held, few)
        if judged is None:
            continue
        told = _told(one, judged, few)
        yield told
        if told.lines:
            done.add(one.kinds)


def _matched(at: Changed, sizes: tuple[Size, ...], held: dict[str, OnHand]) -> float:
    """Chance that all sets end truly within, of the candidate for which it is best."""
    return max((j.matched for j in _studies(at, sizes, held)), default=0.0)


def _studies(at: Changed, sizes: tuple[Size, ...], held: dict[str, OnHand]) -> list[Judged]:
    found = candidates(sizes, at.clutch, at.making)
    found = [c for c in found if not c.gap_mm] or found
    return [
        Judged(Study(at.clutch, (c,), at.making, held.get(c.size.name, none_on_hand())))
        for c in islice(found, 8)
        if not at.clutch.work.groups or c.pattern.counts[0] % at.clutch.work.groups == 0
    ]


def _judged(
    at: Changed, sizes: tuple[Size, ...], held: dict[str, OnHand], few: Wish
) -> Judged | None:
    """Draw the likeliest candidate of a changed clutch: the first that can be matched."""
    every = _studies(at, sizes, held)
    able = [j for j in every if j.matched >= few.asked] or every
    return more(able[:1], few.draws, few)[0] if able else None


def _told(of: Changed, judged: Judged, wish: Wish) -> Mend:
    priced = judged.candidate.size.priced
    bought, found = judged.choice(wish), judged.does(wish)
    packs = judged.packs
    at = plateau(judged.outcome.packs, packs.most) if bought is None else found
    return Mend(
        of.changes,
        judged.promise(at),
        bought.cost if bought is not None and priced else None,
        () if bought is None else lines_of([judged.ware], bought, priced),
    )


def _sampled(best: Judged, wish: Wish) -> Iterator[Mend]:
    """The order in two steps, where it keeps what is asked and lots that suit are not rare."""
    one = option(best, wish, best.candidate.size.priced)
    if one.steps.confidence.share >= wish.asked and one.steps.suits.share >= LEAST_SUITING:
        bought = cart(replace(best.ware, held=0), one.steps.sample_discs)
        if bought is not None:
            lines = lines_of([best.ware], bought, best.candidate.size.priced)
            words = f"a sample first; {one.steps.suits.share:.0%} of lots are worth going on with"
            yield Mend((words,), one.steps.confidence, one.steps.cost, lines)


def _of_money(best: Judged, wish: Wish) -> tuple[Mend, ...]:
    """What is wanted is beyond the budget, or beyond what there is."""
    found = best.does(wish)
    bought = cart(best.ware, best.packs.discs(found))
    if bought is None:
        words = "more packs in stock, or another supplier"
        return (Mend((words,), best.promise(found), None, ()),)
    lines = lines_of([best.ware], bought, best.candidate.size.priced)
    words = f"a budget of {bought.cost:.2f}"
    return (Mend((words,), best.promise(found), bought.cost, lines),)
