"""The cheapest cart for one clutch or several: an integer programme over all offers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, isfinite
from typing import Any

from optimizer.model.catalog import Offer, Size, Supplier

#: units of price in one of currency, to which prices are rounded in the programme
CENTS = 100


@dataclass(frozen=True)
class StockItem:
    """A size as it can be bought, and the discs of it on hand."""

    size: Size
    held: int = 0


@dataclass(frozen=True)
class Demand:
    """A way to build sets: for a clutch, of an item; n sets need `discs[n]`.

    The discs needed for a number of sets may be infinite: no quantity does.
    """

    clutch: int
    item: int
    discs: tuple[float, ...]


@dataclass(frozen=True)
class CartLine:
    """Packs of one offer of an item."""

    item: int
    offer: Offer
    packs: int

    @property
    def discs(self) -> int:
        """Return the discs in them."""
        return self.packs * self.offer.pack


@dataclass(frozen=True)
class Cart:
    """Sets built by each demand, what is bought, and what it costs with its delivery."""

    sets: tuple[int, ...]
    bought: tuple[CartLine, ...]
    cost: float

    def discs(self, item: int) -> int:
        """Return the discs bought of an item."""
        return sum(line.discs for line in self.bought if line.item == item)

    @property
    def lead_days(self) -> float | None:
        """Days until the last of what is bought comes; None where the catalog does not say."""
        days = [b.offer.lead_days for b in self.bought if b.offer.lead_days is not None]
        return max(days, default=None)


def price_of(offer: Offer) -> float:
    """Return the price of a pack or, where the catalog has none, its discs."""
    return offer.pack if offer.price is None else offer.price


def choose(
    demands: Sequence[Demand],
    items: Sequence[StockItem],
    sets: Sequence[int],
    most_items: int = 2,
    budget: float | None = None,
) -> Cart | None:
    """Choose how many sets each demand builds and what is bought for it, at least cost.

    Parameters
    ----------
    sets : sets asked for, by clutch
    most_items : items that one order may mix
    budget : what all of it may cost at most

    Returns
    -------
    None when no cart builds all sets. Of carts at one cost the one of fewest discs is taken.

    Notes
    -----
    Binaries z_pn choose that demand p builds n sets, b_o that offer o is bought, u_s that
    supplier s delivers. The discs of each item cover what its demands need: held + sum pack n_o
    >= sum discs_p(n) z_pn. A price holds from so many packs on, for all of them, and of the
    rows of one pack one is bought; an item comes from one supplier, and what a supplier delivers
    is worth its least order.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    cells = [
        (p, n, ceil(demand.discs[n]))
        for p, demand in enumerate(demands)
        for n in range(min(sets[demand.clutch] + 1, len(demand.discs)))
        if isfinite(demand.discs[n])
    ]
    z = {(p, n): model.new_bool_var("") for p, n, _ in cells}
    for p in range(len(demands)):
        model.add_exactly_one(z[q, n] for q, n, _ in cells if q == p)
    for clutch, count in enumerate(sets):
        model.add(sum(n * z[p, n] for p, n, _ in cells if demands[p].clutch == clutch) == count)
    goods: dict[Supplier, list[Any]] = {}
    lines: list[tuple[int, Offer, Any]] = []
    used, supplied = [], []
    for w, item in enumerate(items):
        of_item = [(z[p, n], n, need) for p, n, need in cells if demands[p].item == w]
        most = sum(need for _, _, need in of_item)
        offers = list(_offers(model, item.size, most))
        lines += [(w, offer, packs) for offer, packs in offers]
        supply = sum(offer.pack * packs for offer, packs in offers)
        model.add(item.held + supply >= sum(need * chosen for chosen, _, need in of_item))
        building = model.new_bool_var("")
        for chosen, n, _ in of_item:
            if n:
                model.add_implication(chosen, building)
        used.append(building)
        supplied.append(supply)
        for offer, packs in offers:
            value = round(CENTS * price_of(offer)) * packs
            goods.setdefault(offer.supplier, []).append(value)
    model.add(sum(used) <= most_items)
    cost = sum(_delivered(model, supplier, sum(values)) for supplier, values in goods.items())
    if budget is not None:
        model.add(cost <= int(budget * CENTS + 1e-6))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    model.minimize(cost)
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    least = round(solver.objective_value)
    model.add(cost == least)
    model.minimize(sum(supplied))
    solver.solve(model)
    built = [0] * len(demands)
    for p, n, _ in cells:
        built[p] += n * solver.value(z[p, n])
    bought = tuple(CartLine(w, o, k) for w, o, n in lines if (k := solver.value(n)))
    return Cart(tuple(built), bought, least / CENTS)


def _offers(model: Any, size: Size, most: int) -> Iterator[tuple[Offer, Any]]:
    """Yield every offer of a size with its packs, of which `most` discs are wanted at most.

    One supplier delivers them, as they count as one lot.
    """
    taken: dict[tuple[str, str, int], list[Any]] = {}
    sellers: dict[Supplier, Any] = {}
    for offer in size.offers:
        wanted = max(ceil(most / offer.pack), offer.from_packs)
        if offer.supplier.minimum and price_of(offer):
            wanted = max(wanted, ceil(offer.supplier.minimum / price_of(offer)))
        least = max(offer.from_packs, 1)
        cap = wanted if offer.stock_packs is None else min(wanted, offer.stock_packs)
        packs, buys = model.new_int_var(0, cap, ""), model.new_bool_var("")
        model.add(packs <= cap * buys)
        model.add(packs >= least * buys)
        taken.setdefault((offer.name, offer.supplier.name, offer.pack), []).append(buys)
        if offer.supplier not in sellers:
            sellers[offer.supplier] = model.new_bool_var("")
        model.add_implication(buys, sellers[offer.supplier])
        yield offer, packs
    for of_pack in taken.values():
        model.add_at_most_one(of_pack)
    model.add_at_most_one(sellers.values())


def _delivered(model: Any, supplier: Supplier, value: Any) -> Any:
    """Return what goods worth `value` cost, in hundredths, once they are delivered."""
    delivery, minimum = round(CENTS * supplier.delivery), round(CENTS * supplier.minimum)
    if not delivery and not minimum:
        return value
    delivers = model.new_bool_var("")
    model.add(value == 0).only_enforce_if(delivers.negated())
    model.add(value >= minimum).only_enforce_if(delivers)
    return value + delivery * delivers


@cache
def cheapest_cart(item: StockItem, discs: int, budget: float | None = None) -> Cart | None:
    """Return the cheapest way to have so many discs of one item; None where there is none."""
    return choose((Demand(0, 0, (0.0, float(discs))),), (item,), (1,), budget=budget)
