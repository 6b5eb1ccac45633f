"""The rule of the next move by itself: chances are given, what is advised is looked at."""

from types import SimpleNamespace

import numpy as np
import pytest

from optimizer.bench import decide
from optimizer.bench.decide import Advice, next_move
from optimizer.bench.moves import Exchange, Move

NOW = ((("A",),), (("B",),), (("C",),))


def swap(odds, on_target=1.0, discs=2, name="D"):
    """A swap to stacks of its own name with these chances."""
    exchange = Exchange("A", (1, 1, 1), name, None)
    return Move((exchange,), (((name,),), *NOW[1:]), odds, on_target, discs)


def rebuilt(odds, on_target=1.0, discs=9):
    return Move((), NOW[::-1], odds, on_target, discs, ((),) * 3)


@pytest.fixture
def weigh(monkeypatch):
    """Advice on chances now, that reading again settles it, and for moves (and then reading)."""

    def advised(odds, on_target=1.0, again=0.0, swaps=(), then=0.0, anew=None) -> Advice:
        monkeypatch.setattr(decide, "loads", lambda learned, stacks, shims_mm: stacks)
        monkeypatch.setattr(decide, "judged", lambda *_: (odds, on_target))
        monkeypatch.setattr(decide, "options", lambda *_, **__: list(swaps))
        monkeypatch.setattr(decide, "_rebuilt", lambda *_: anew)
        monkeypatch.setattr(
            decide, "certified", lambda learned, after, *_: again if after == NOW else then
        )
        task = SimpleNamespace(weight=np.ones(3))
        return next_move(None, task, NOW, (0.0,) * 3, 9.0, lambda: anew)

    return advised


@pytest.mark.parametrize(
    ("odds", "on_target", "kind"),
    [(0.9, 0.5, "stop"), (0.899, 0.5, "reread"), (0.9, 0.52, "stop"), (0.95, 0.49, "stop")],
)
def test_it_stops_at_nine_in_ten_where_nothing_better_is_to_be_had(weigh, odds, on_target, kind):
    assert weigh(odds, on_target, again=0.5).kind == kind


@pytest.mark.parametrize(
    ("on_target", "kind"),
    [(0.49, "rebuild"), (0.5, "stop")],  # worth 0.9 less eight discs of 0.02
)
def test_off_target_what_is_worth_more_goes_before_stopping(weigh, on_target, kind):
    assert weigh(0.95, on_target, 0.9, then=0.9, anew=rebuilt(0.9)).kind == kind
    assert weigh(0.95, 0.49, 0.9, then=0.9, anew=rebuilt(0.6)).kind == "stop"


@pytest.mark.parametrize(
    ("discs", "again", "kind"),
    [
        (3, 0.638, "swap"),  # 0.9 then, less 0.2 to take apart and 0.02 a disc: 0.64
        (3, 0.642, "reread"),
        (10, 0.53, "swap"),  # of more than eight discs no more are counted: 0.54
        (10, 0.55, "reread"),
    ],
)
def test_a_move_must_promise_more_than_reading_again_and_what_it_costs(weigh, discs, again, kind):
    said = weigh(0.5, 1.0, again, [swap(0.8, discs=discs)], then=0.9)
    assert said.kind == kind
    assert said.chance_then == (0.9 if kind == "swap" else None)
    assert [move.odds for move in said.moves] == [0.8]


def test_off_target_reading_again_stands_behind_a_rebuild_but_not_behind_a_swap(weigh):
    on = {"again": 0.7, "then": 0.7}
    assert weigh(0.5, 0.2, swaps=[swap(0.6, 0.6)], **on).kind == "reread"
    assert weigh(0.5, 0.2, anew=rebuilt(0.6, 0.9), **on).kind == "rebuild"


def test_what_gains_nothing_is_not_done_where_a_reading_after_it_is_all_there_is(weigh):
    said = weigh(0.5, 1.0, 0.05, [swap(0.505, discs=1)], then=0.2)
    assert (said.kind, said.moves) == ("reread", ())
    assert weigh(0.5, 1.0, 0.05, [swap(0.505, discs=1)], then=0.1).kind == "leave"
    assert weigh(0.5, 1.0, 0.05, [swap(0.55, discs=1)], then=0.2).kind == "swap"


def test_the_target_counts_unless_it_is_out_of_reach_of_all(weigh):
    near, alike = swap(0.5, 0.6, name="N"), swap(0.8, 0.3, name="S")
    for on_target, swaps, anywhere in (
        (0.2, [near, alike], False),
        (0.2, [alike], True),
        (0.6, [alike], False),  # not off it now
    ):
        assert weigh(0.1, on_target, 0.0, swaps, then=0.6).anywhere == anywhere
    assert weigh(0.1, 0.2, 0.0, [alike, near], then=0.6).moves == (near, alike)


def stack(*names):
    return tuple((name,) for name in names)


@pytest.mark.parametrize(
    ("shims", "moved", "placed"),
    [
        (((),) * 4, 1, 0),
        (((0.1,),) * 4, 1, 0),
        (((0.1,), (0.2,), (), ()), 13, 1),  # shims stand under a shoe, and stacks with them
    ],
)
def test_a_rebuild_leaves_discs_under_their_shoe_where_shims_are_alike(
    monkeypatch, shims, moved, placed
):
    monkeypatch.setattr(decide, "loads", lambda learned, stacks, shims_mm: (stacks, shims_mm))
    monkeypatch.setattr(decide, "judged", lambda after, *_: (0.7, 0.8))
    now = stack(*"ABC"), stack(*"DEF"), stack(*"GHI"), stack(*"JKL")
    anew = now[3], now[0], (*now[1], ("M",)), now[2]
    task = SimpleNamespace(alike=True)
    move = decide._rebuilt(None, task, now, (anew, shims), 9.0)
    assert move.discs_moved == moved
    assert move.stacks == (anew if placed else (now[0], anew[2], now[2], now[3]))
    assert (move.odds, move.on_target, move.shims) == (0.7, 0.8, shims)
    unlike = decide._rebuilt(None, SimpleNamespace(alike=False), now, (anew, shims), 9.0)
    assert unlike.stacks == anew
