from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.report.labels import spread

places = st.lists(st.floats(-500, 500), min_size=1, max_size=40)


@given(places)
def test_labels_are_a_gap_apart_and_in_order(wanted):
    placed = spread(wanted, 13)
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], i))
    up = [placed[i] for i in order]
    assert all(b - a >= 13 - 1e-6 for a, b in pairwise(up))


@given(places)
def test_together_they_do_not_drift(wanted):
    assert sum(spread(wanted, 13)) == pytest.approx(sum(wanted), abs=1e-6)


def test_labels_with_room_stay_where_they_are():
    assert spread([40, 0, 20], 13) == pytest.approx([40, 0, 20])


def test_two_at_one_place_part_evenly():
    assert spread([10, 10], 4) == pytest.approx([8, 12])
