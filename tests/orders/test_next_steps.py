from dataclasses import replace

from optimizer.orders.clutch import BenchWork
from optimizer.orders.next_steps import next_steps
from optimizer.orders.quantity import Proportion
from tests.report.test_order_page import BEST, JOINT, NEVER, order

SURE = Proportion.of(1000, 1000)


def test_the_sample_comes_first_then_the_order_then_the_delivery():
    steps = next_steps(order(BEST))
    assert "as a sample first" in steps[0]
    assert "Order 46 packs of 10 of V18-100 5 days before" in steps[1]
    assert "--received BAG --plan OUT/order.json" in steps[4]
    assert "--sets 10" in steps[5]


def test_no_sample_where_the_lot_does_not_rule():
    sure = replace(BEST, blind=SURE)
    assert "Order" in next_steps(order(sure))[0]


def test_a_joint_order_is_bought_as_one():
    joined = next_steps(order(BEST, BEST, joint=JOINT))
    assert any("8 packs of 50 of V18-100 and 2 packs of 40 of V22-125" in step for step in joined)
    assert sum("sample" in step for step in joined) == 1


def test_where_no_quantity_does_it_is_said_what_would():
    assert next_steps(order(NEVER))[-1].startswith("Do not order yet")


def test_discs_on_hand_that_do_need_no_order():
    steps = next_steps(order(replace(BEST, lines=(), blind=SURE)))
    assert steps[0] == "Nothing needs to be ordered: the discs on hand do."


def test_the_work_on_the_bench_that_the_promise_counts_on_is_named():
    bought = order(BEST)

    def told(work):
        clutches = tuple(replace(one, work=work) for one in bought.clutches)
        return next_steps(replace(bought, clutches=clutches))

    assert told(BenchWork(0, 3))[-1].startswith("Gauge groups of 3 discs, which then stay together")
    assert told(BenchWork(1))[-1].startswith("Gauge every set in 1 round, with the swaps")
    assert told(BenchWork(0))[-1].startswith("evenstack match JOB --sets 10")
