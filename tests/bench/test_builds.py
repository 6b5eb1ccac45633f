from optimizer.bench.builds import track
from optimizer.bench.readings import Reading

A, B, C = (("a",), ("b",)), (("c",), ("d",)), (("a",), ("c",))


def settled(number, shoe, packs, rebuilt=False):
    return Reading(number, shoe, packs, "settled", 1.0, None, rebuilt)


def builds(*readings, keep_groups=False):
    built, count, standing = track(readings, keep_groups)
    return [b.build for b in built], count, standing


def test_a_stack_read_again_is_the_same_build_whatever_the_order_of_its_discs():
    found, count, _ = builds(settled(1, 1, A), settled(2, 1, A[::-1]), settled(2, 1, A))
    assert found == [(0, 0), (0, 0), (0, 0)]
    assert count == 1


def test_a_stack_taken_apart_is_another_build():
    found, count, _ = builds(settled(1, 1, A), settled(2, 1, A, True), settled(2, 1, A, True))
    assert found == [(0, 0), (1, 1), (1, 1)]
    assert count == 2


def test_other_discs_are_another_build_and_those_lent_out_end_the_other_stack():
    found, count, standing = builds(settled(1, 1, A), settled(1, 2, B), settled(2, 1, C))
    assert found == [(0, 0), (1, 1), (2, 2)]
    assert set(standing.shoes) == {1}  # c went from shoe 2 to shoe 1
    assert standing.built(2, B).build == (-1, -1)
    assert count == 3


def test_groups_keep_their_build_inside_a_longer_stack_only_if_they_stay_together():
    readings = [settled(1, None, A), settled(1, None, B), settled(2, 1, A + B)]
    assert builds(*readings, keep_groups=True)[0] == [(0, 0), (1, 1), (0, 0, 1, 1)]
    assert builds(*readings)[0] == [(0, 0), (1, 1), (2, 2, 2, 2)]
