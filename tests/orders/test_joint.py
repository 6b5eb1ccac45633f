"""Sets bought together: a larger cart of the same sets."""

from optimizer.orders.choose import Demand, StockItem, cheapest_cart, choose
from optimizer.orders.joint import _more
from tests.orders.cases import size


def test_where_one_cart_falls_short_a_larger_one_of_the_same_sets_is_taken():
    of = size("V18-100")
    cart = choose((Demand(0, 0, (0.0, 60.0)),), (StockItem(of, 20),), (1,))
    more = _more(cart, (StockItem(of, 20),), None)
    assert more.sets == cart.sets
    assert more.discs(0) > cart.discs(0)
    assert more.cost == cheapest_cart(StockItem(of), cart.discs(0) + 1).cost
    assert _more(cart, (StockItem(of, 20),), cart.cost) is None  # beyond the budget
