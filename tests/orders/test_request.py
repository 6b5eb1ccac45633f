"""From files and options to what is to be planned."""

import shutil
from pathlib import Path

import pytest

from optimizer.errors import InputError
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
