"""The integer programme against every cart there is."""

from itertools import product
from math import ceil, inf

import numpy as np
import pytest

from optimizer.model.catalog import Offer, Supplier
from optimizer.orders.choose import Demand, StockItem, cheapest_cart, choose, price_of
from optimizer.orders.joint import _more
from tests.orders.cases import size


def item(*offers, held=0, name="V18-100"):
    return StockItem(size(name, offers=offers), held)


#: packs of one offer that brute force tries; more are never wanted here
MOST = 17


def carts(of):
    """Supplier, value and discs of every cart of one item that its offers allow."""
    for supplier in {o.supplier for o in of.size.offers}:
        kinds = {}
        for o in of.size.offers:
            if o.supplier == supplier:
                most = MOST if o.stock_packs is None else min(MOST, o.stock_packs)
                bought = [(k * price_of(o), k * o.pack) for k in range(o.from_packs, most + 1)]
                kinds.setdefault((o.name, o.pack), [(0.0, 0)]).extend(bought)
        for cart_of in product(*kinds.values()):
            yield supplier, sum(v for v, _ in cart_of), of.held + sum(d for _, d in cart_of)


def delivered(good):
    """Least cost of one cart of each item, (supplier, values) by item, with the deliveries."""
    total = 0.0
    for supplier in {who for who, _ in good}:
        goods = np.zeros(1)
        for who, values in good:
            if who == supplier:
                goods = np.unique(np.add.outer(goods, values).round(2))
        paid = np.where(goods >= supplier.minimum, goods + supplier.delivery, inf)
        total += np.where(goods == 0, 0.0, paid).min(initial=inf)
    return total


def brute(parts, items, sets, most_items, budget):
    """Least cost by trying every split of the sets and every cart of every item."""
    every = [list(carts(of)) for of in items]
    best = inf
    for split in product(*(range(sets[p.clutch] + 1) for p in parts)):
        built = [
            sum(n for n, p in zip(split, parts, strict=True) if p.clutch == c)
            for c in range(len(sets))
        ]
        used = {p.item for n, p in zip(split, parts, strict=True) if n}
        if built != list(sets) or len(used) > most_items:
            continue
        need = np.zeros(len(items))
        for n, p in zip(split, parts, strict=True):
            need[p.item] += p.discs[n]
        if not np.isfinite(need).all():
            continue
        choices = [
            [
                (who, np.unique([round(v, 2) for of, v, d in of_item if of == who and d >= wanted]))
                for who in {of for of, _, _ in of_item}
            ]
            for of_item, wanted in zip(every, need, strict=True)
        ]
        best = min(best, *(delivered(good) for good in product(*choices)))
    return None if best == inf or (budget is not None and best > budget + 1e-9) else best


def random_offers(rng, supplier):
    """Packs of one supplier, some with a stock and a price break."""
    for pack in rng.choice([5, 10, 25], int(rng.integers(1, 3)), replace=False).tolist():
        price = round(float(rng.uniform(0.5, 1.0)) * pack, 2)
        stock = int(rng.integers(1, 7)) if rng.random() < 0.4 else None
        yield Offer("a", pack, price, 1, stock, None, supplier)
        if rng.random() < 0.5:
            many = int(rng.integers(2, 5))
            yield Offer("a", pack, round(0.8 * price, 2), many, stock, None, supplier)


def random_case(seed):
    rng = np.random.default_rng(seed)
    clutches, count = int(rng.integers(1, 3)), int(rng.integers(1, 3))
    sets = tuple(int(n) for n in rng.integers(1, 4, clutches))
    sellers = [
        Supplier(f"s{k}", float(rng.choice([0, 5.5, 12])), float(rng.choice([0, 0, 40])))
        for k in range(2)
    ]
    items = []
    for _ in range(count):
        offers = []
        for seller in rng.permutation(2)[: int(rng.integers(1, 3))]:
            offers += random_offers(rng, sellers[seller])
        items.append(item(*offers, held=int(rng.integers(0, 12))))
    parts = []
    for c in range(clutches):
        for w in range(count):
            each = np.cumsum(rng.integers(5, 12, sets[c]))
            discs = [0.0, *map(float, each)]
            if rng.random() < 0.2:
                discs[-1] = inf
            parts.append(Demand(c, w, tuple(discs)))
    budget = float(rng.integers(20, 60)) if rng.random() < 0.3 else None
    return tuple(parts), tuple(items), sets, int(rng.integers(1, 3)), budget


@pytest.mark.parametrize("first", range(0, 100, 25))
def test_the_programme_equals_brute_force(first):
    found_none = 0
    for seed in range(first, first + 25):
        parts, items, sets, most, budget = random_case(seed)
        expected, found = brute(parts, items, sets, most, budget), choose(*random_case(seed))
        if expected is None:
            found_none += 1
            assert found is None, seed
            continue
        assert found is not None, seed
        assert found.cost == pytest.approx(expected, abs=1e-6), seed
        need = np.zeros(len(items))
        for n, p in zip(found.sets, parts, strict=True):
            need[p.item] += p.discs[n]
        for w, of in enumerate(items):
            assert of.held + found.discs(w) >= need[w]
    assert found_none < 25


def packs(found):
    return [(line.packs, line.offer.pack) for line in found.bought]


def test_the_rest_of_an_order_comes_in_small_packs():
    """270 discs: five packs of 50 and two of 10 at 138.60 win against six of 50 at 150."""
    of = item(Offer("a", 50, 25.0), Offer("a", 10, 6.80))
    found = cheapest_cart(of, 270)
    assert packs(found) == [(5, 50), (2, 10)]
    assert found.cost == 138.60
    assert packs(cheapest_cart(of, 295)) == [(6, 50)]


def test_a_price_break_a_stock_and_a_least_order_are_heeded():
    tiers = Offer("a", 10, 5.0), Offer("a", 10, 3.0, from_packs=5)
    assert packs(cheapest_cart(item(*tiers), 40)) == [(5, 10)]  # 15, where four packs are 20
    assert packs(cheapest_cart(item(*tiers), 20)) == [(2, 10)]
    assert cheapest_cart(item(Offer("a", 10, 5.0, stock_packs=3)), 40) is None
    trials = Supplier("shop", delivery=4.0, minimum=18.0)
    found = cheapest_cart(item(Offer("a", 10, 5.0, supplier=trials)), 20)
    assert (packs(found), found.cost) == ([(4, 10)], 24.0)


def test_of_carts_at_one_cost_the_smaller_one_is_taken():
    found = cheapest_cart(item(Offer("a", 25, 10.0), Offer("a", 10, 10.0)), 10)
    assert packs(found) == [(1, 10)]


def test_a_part_that_can_never_do_is_not_chosen():
    parts = (Demand(0, 0, (0.0, inf)), Demand(0, 1, (0.0, 20.0)))
    cheap, dear = item(Offer("a", 10, 1.0)), item(Offer("b", 10, 9.0), name="V20-110")
    found = choose(parts, (cheap, dear), (1,))
    assert (found.sets, packs(found), found.cost) == ((0, 1), [(2, 10)], 18.0)
    assert choose(parts[:1], (cheap,), (1,)) is None


def test_discs_on_hand_are_not_bought():
    found = cheapest_cart(item(Offer("a", 10, 5.0), held=15), 20)
    assert packs(found) == [(1, 10)]
    assert cheapest_cart(item(Offer("a", 10, 5.0), held=20), 20).bought == ()
    assert ceil(cheapest_cart(item(Offer("a", 10, 5.0), held=15), 20).cost) == 5


def test_where_one_cart_falls_short_a_larger_one_of_the_same_sets_is_taken():
    of = size("V18-100")
    cart = choose((Demand(0, 0, (0.0, 60.0)),), (StockItem(of, 20),), (1,))
    more = _more(cart, (StockItem(of, 20),), None)
    assert more.sets == cart.sets
    assert more.discs(0) > cart.discs(0)
    assert more.cost == cheapest_cart(StockItem(of), cart.discs(0) + 1).cost
    assert _more(cart, (StockItem(of, 20),), cart.cost) is None  # beyond the budget
