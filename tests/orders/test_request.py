"""From files and options to what is to be planned."""

import json
import re
import shutil
from dataclasses import replace
from datetime import date, timedelta
from math import inf
from pathlib import Path

import pytest

from optimizer.errors import CannotBuildError, InputError
from optimizer.orders.received import read_earlier
from optimizer.orders.request import Request, ask
from tests.orders.cases import SUPPLIER

EXAMPLE = Path(__file__).parents[2] / "examples" / "spring_order"


def test_an_empty_bag_is_that_of_a_builder_who_owns_nothing(tmp_path):
    shutil.copytree(EXAMPLE, tmp_path, dirs_exist_ok=True)
    for held in ("disc,thickness_mm,cone_height_mm\n", ""):
        (tmp_path / "bag.csv").write_text(held)
        asked = ask(Request((tmp_path / "job.toml",), (1,), SUPPLIER), 20)
        assert asked.on_hand == {}
        assert "The bag bag.csv is empty: planned with no disc on hand." in asked.warnings
    with pytest.raises(InputError, match="Expected a bag"):
        ask(Request((tmp_path / "job.toml",), (1,), SUPPLIER, received=tmp_path / "bag.csv"), 20)


def test_more_than_can_be_simulated_is_refused_with_what_can():
    with pytest.raises(InputError, match=r"1000 sets in 1000 deliveries\. Write --draws 100"):
        ask(Request((EXAMPLE / "job.toml",), (1000,), SUPPLIER), 1000)
    assert ask(Request((EXAMPLE / "job.toml",), (1000,), SUPPLIER), 100).goal.draws == 100


def test_a_million_draws_are_for_a_cluster():
    request = Request((EXAMPLE / "job.toml",), (2,), SUPPLIER)
    with pytest.raises(InputError, match="send the draws to a cluster with --cluster ADDRESS"):
        ask(request, 1_000_000)
    assert ask(request, 1_000_000, most=inf).goal.draws == 1_000_000


def test_an_earlier_order_that_assumed_what_cannot_be_is_refused(tmp_path):
    order = json.loads((Path(__file__).parents[1] / "fuzz" / "order.json").read_text())
    for name, value, said in (
        ("disc_stiffness_sd", -0.1, "Expected disc_stiffness_sd from 0 to 0.2, got -0.1"),
        ("disc_stiffness_sd", -1e300, "making.disc_stiffness_sd: Expected a number of ordinary"),
        ("limits_at_sd", 0.0, "Expected limits_at_sd from 0.5 to 20, got 0"),
    ):
        path = tmp_path / "order.json"
        path.write_text(json.dumps({**order, "making": {**order["making"], name: value}}))
        with pytest.raises(InputError, match=re.escape(said)):
            read_earlier(path)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"need_by": date(2020, 5, 1)}, "--need-by: Expected a day to come, got 2020-05-01."),
        ({"same_lot": True}, "--same-lot: The same lot as what? Give the sample"),
        (
            {"jobs": (EXAMPLE / "job.toml",) * 2, "received": EXAMPLE / "bag.csv"},
            "--received: Expected one job with --received, got 2.",
        ),
        ({"sets": ()}, "--sets: Expected how many sets to build."),
        ({"sets": (1, 2)}, "--sets: Expected --sets once, or once for each of 1 jobs"),
        ({"confidence": 95.0}, "--confidence: Expected a confidence between 0 and 1, got 95."),
        ({"plan": EXAMPLE / "order.json"}, "--plan: An earlier order is compared with what"),
    ],
)
def test_options_that_do_not_go_together_are_refused(asked, said):
    with pytest.raises(InputError, match=re.escape(said)):
        ask(Request(**{"jobs": (EXAMPLE / "job.toml",), "sets": (1,), **asked}), 20)


def test_what_comes_too_late_is_not_bought(tmp_path):
    """Of two offers of one size the one that comes in a week is left."""
    catalog = tmp_path / "two.csv"
    catalog.write_text(
        "size,od_mm,id_mm,thickness_mm,cone_height_mm,pack,price,lead_days,standard\n"
        "A,18,9.2,1,0.4,50,20,7,EN 16983\nA,18,9.2,1,0.4,10,5,90,EN 16983\n"
    )
    soon = date.today() + timedelta(days=30)
    request = Request((EXAMPLE / "job.toml",), (1,), catalog, need_by=soon)
    [size] = ask(request, 20).sizes
    assert [offer.pack for offer in size.offers] == [50]
    with pytest.raises(CannotBuildError, match="comes within 2 days; the soonest takes 7"):
        ask(replace(request, need_by=date.today() + timedelta(days=2)), 20)
