from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.model.sizes import GAP_MM, sizes


def test_discs_of_one_size_measured_either_side_of_a_half_millimetre_are_alike() -> None:
    # 31.5 mm is a size of EN 16983; its discs may measure 31.3 to 31.5
    assert sizes([31.48, 31.52, 31.30], [16.3, 16.31, 16.4]).tolist() == [0, 0, 0]


def test_neighbouring_sizes_are_told_apart() -> None:
    # EN 16983: 31.5 x 16.3, 34 x 12.3, 34 x 14.3, 34 x 16.3
    number = sizes([31.5, 34.0, 33.9, 34.0, 33.95], [16.3, 12.3, 14.3, 16.3, 12.35])
    assert number[1] == number[4]
    assert len(set(number.tolist())) == 4


def test_no_disc_no_size() -> None:
    assert sizes([], []).tolist() == []


@settings(derandomize=True, max_examples=50)
@given(st.lists(st.floats(8, 60), min_size=1, max_size=20), st.randoms(use_true_random=False))
def test_the_order_of_the_discs_does_not_matter(od: list[float], random) -> None:
    order = list(range(len(od)))
    random.shuffle(order)
    here = sizes(od, od)
    there = sizes([od[i] for i in order], [od[i] for i in order])
    np.testing.assert_array_equal(here[order], there)
    near = np.abs(np.subtract.outer(od, od)) <= GAP_MM
    assert (here[:, None] == here)[near].all()
