from __future__ import annotations

import pytest

from optimizer.estimate.builds import FACE, Standing, track
from optimizer.model.readings import Reading
from optimizer.model.stack import Stack


def singles(discs: str) -> Stack:
    return tuple((disc,) for disc in discs)


def settled(shoe: int | None, discs: str, round_: int = 1) -> Reading:
    return Reading(round_, shoe, singles(discs), "settled", 890.0)


def test_a_new_stack_draws_all_its_scatter_and_a_standing_one_none() -> None:
    _, _, standing = track([settled(1, "abc")], keep_groups=False)
    assert standing.anew(1, singles("abc")) == (0.0, 0.0, 0.0)
    assert standing.anew(1, singles("cba")) == (0.0, 0.0, 0.0)
    assert standing.anew(2, singles("def")) == (1.0, 1.0, 1.0)
    assert standing.anew(1, singles("abd")) == (1.0, 1.0, 1.0)


def test_the_outer_faces_of_a_kept_group_meet_something_else() -> None:
    readings = [settled(None, "abc"), settled(None, "def")]
    _, _, standing = track(readings, keep_groups=True)
    assert standing.anew(1, singles("abcdef")) == (FACE, 0, FACE, FACE, 0, FACE)
    assert standing.anew(1, singles("xabc")) == (1.0, FACE, 0.0, FACE)
    # once it stands under a shoe and was read, nothing is drawn any more
    _, _, standing = track([*readings, settled(1, "abcdef")], keep_groups=True)
    assert standing.anew(1, singles("abcdef")) == (0.0,) * 6


@pytest.mark.parametrize("discs", ["abc", "a", "abcdefgh"])
def test_shares_lie_between_nothing_and_all(discs: str) -> None:
    for standing in (Standing({}, {}), track([settled(None, "abc")], keep_groups=True)[2]):
        shares = standing.anew(1, singles(discs))
        assert len(shares) == len(discs)
        assert all(0 <= share <= 1 for share in shares)
