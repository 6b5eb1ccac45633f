"""The rule of the next move by itself: chances are given, what is advised is looked at."""

from types import SimpleNamespace

import numpy as np
import pytest

from optimizer.bench import decide
from optimizer.bench.decide import Advice, next_move
from optimizer.bench.moves import Exchange, Move

NOW = ((("A",),), (("B",),), (("C",),))


def swap(chance, on_target=1.0, name="D", minutes=3.0, to_come=3.0):
    """A swap to stacks of its own name with these chances and minutes."""
    exchange = Exchange("A", (1, 1, 1), name, None)
    return Move((exchange,), (((name,),), *NOW[1:]), chance, on_target, 2, (), minutes, to_come)


def rebuilt(chance, on_target=1.0, to_come=3.0):
    return Move((), NOW[::-1], chance, on_target, 9, ((),) * 3, 13.5, to_come)


@pytest.fixture
def weigh(monkeypatch):
    """Advice on chances now, that reading again settles it, and for moves that lead nearer.

    `anew` is a rebuild, or one by whether the target is out of reach.
    """

    def advised(chance, on_target=1.0, again=0.0, swaps=(), anew=None, nearer=False) -> Advice:
        ahead = SimpleNamespace(nearer=lambda then: nearer)
        monkeypatch.setattr(decide, "loads", lambda learned, stacks, shims_mm: stacks)
        monkeypatch.setattr(decide, "judged", lambda *_: (chance, on_target))
        monkeypatch.setattr(decide, "look_ahead", lambda *_: ahead)
        monkeypatch.setattr(decide, "options", lambda *_, **__: list(swaps))
        judged = anew if callable(anew) else lambda anywhere: anew
        monkeypatch.setattr(decide, "_rebuilt", lambda ahead, built, anywhere: judged(anywhere))
        monkeypatch.setattr(
            decide, "certified", lambda learned, after, *_: again if after == NOW else 0.6
        )
        task = SimpleNamespace(weight=np.ones(3))
        return next_move(None, task, NOW, (0.0,) * 3, 9.0, lambda: anew)

    return advised


@pytest.mark.parametrize(
    ("chance", "on_target", "kind"),
    [(0.9, 0.5, "stop"), (0.899, 0.5, "reread"), (0.9, 0.52, "stop"), (0.95, 0.49, "stop")],
)
def test_it_stops_at_nine_in_ten_where_nothing_better_is_to_be_had(weigh, chance, on_target, kind):
    assert weigh(chance, on_target, again=0.5).kind == kind


@pytest.mark.parametrize(
    ("on_target", "kind"),
    [(0.49, "rebuild"), (0.5, "stop")],
)
def test_off_target_what_is_worth_taking_apart_for_goes_before_stopping(weigh, on_target, kind):
    """Stacks that agree are taken apart for 0.2 of both chances together, not for less."""
    assert weigh(0.95, on_target, 0.9, anew=rebuilt(0.9)).kind == kind
    assert weigh(0.95, 0.49, 0.9, anew=rebuilt(0.67)).kind == "rebuild"
    assert weigh(0.95, 0.49, 0.9, anew=rebuilt(0.66)).kind == "stop"


def test_stacks_that_agree_where_no_target_can_be_reached_are_left_alone(weigh):
    """As good as never on target, so that a rebuild is a hair likelier: it went on for ever."""
    assert weigh(0.97, 1e-9, 0.9, anew=rebuilt(0.5, 1e-8)).kind == "stop"


@pytest.mark.parametrize(
    ("minutes", "again", "kind"),
    [
        # reading three stacks again takes 4.5 minutes and spares what is to be done with a chance
        (6.0, 0.49, "swap"),
        (6.0, 0.51, "reread"),
        (12.0, 0.29, "swap"),
        (12.0, 0.31, "reread"),
        (90.0, 0.1, "swap"),
    ],
)
def test_stacks_are_read_again_where_that_is_likely_to_spare_more_minutes(
    weigh, minutes, again, kind
):
    said = weigh(0.5, 1.0, again, [swap(0.8, to_come=minutes)])
    assert said.kind == kind
    assert said.chance_then == (0.6 if kind == "swap" else None)
    assert [move.chance for move in said.moves] == [0.8]


def test_what_takes_the_fewest_minutes_in_all_is_done_though_less_likely(weigh):
    quick, sure = swap(0.4, name="Q"), swap(0.6, name="S", minutes=6.0, to_come=2.0)
    assert weigh(0.1, 1.0, 0.0, [sure, quick]).moves == (quick, sure)
    assert weigh(0.1, 1.0, 0.0, [quick], anew=rebuilt(0.9, to_come=1.0)).moves[0] == quick


def test_a_rebuild_is_worked_out_where_swaps_take_longer_than_all_anew(weigh):
    whole = rebuilt(0.5, to_come=2.0)
    assert whole not in weigh(0.1, 1.0, 0.0, [swap(0.1, to_come=10.4)], anew=whole).moves
    assert weigh(0.1, 1.0, 0.0, [swap(0.1, to_come=13.0)], anew=whole).moves[0] == whole


def test_off_target_reading_again_stands_behind_a_rebuild_but_not_behind_a_swap(weigh):
    assert weigh(0.5, 0.2, 0.95, [swap(0.6, 0.6)]).kind == "reread"
    assert weigh(0.5, 0.2, 0.95, anew=rebuilt(0.6, 0.9)).kind == "rebuild"


def test_what_neither_gains_nor_leads_nearer_is_not_done(weigh):
    idle = [swap(0.505)]
    assert weigh(0.5, 1.0, 0.05, idle).kind == "leave"
    assert weigh(0.5, 1.0, 0.11, idle).kind == "reread"
    assert weigh(0.5, 1.0, 0.05, idle, nearer=True).kind == "swap"  # nearer, if no likelier
    assert weigh(0.5, 1.0, 0.05, [swap(0.55)]).kind == "swap"
    behind = swap(0.55, to_come=9.0)
    assert weigh(0.5, 1.0, 0.05, [*idle, behind]).advised == behind


def test_the_target_counts_unless_it_is_out_of_reach_of_all(weigh):
    near, alike = swap(0.5, 0.6, name="N"), swap(0.8, 0.3, name="S")
    for on_target, swaps, anywhere in (
        (0.2, [near, alike], False),
        (0.2, [alike], True),
        (0.6, [alike], False),  # not off it now
    ):
        assert weigh(0.1, on_target, 0.0, swaps).anywhere == anywhere


def test_out_of_reach_a_rebuild_too_is_ranked_by_how_alike_it_leaves_the_shoes(weigh):
    """Else the minutes of building for the target again are counted, which nothing reaches."""
    alone = swap(0.5, 0.3, to_come=20.0)
    said = weigh(0.1, 0.2, 0.0, [alone], anew=lambda out: rebuilt(0.8, 0.3, 2.0 if out else 40.0))
    assert said.anywhere
    assert said.kind == "rebuild"


def test_certified_already_no_swap_is_thought_of(weigh):
    assert weigh(0.9, 0.2, 0.0, [swap(0.99, 0.99)]).kind == "stop"


def test_a_small_hope_of_a_reading_is_no_reason_for_it(weigh):
    assert weigh(0.5, 1.0, decide.HOPE, [swap(0.505)]).kind == "leave"


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
    mean, cover = np.zeros(4), np.eye(4)
    then = SimpleNamespace(mean_n=mean, covariance_n2=cover)
    monkeypatch.setattr(decide, "loads", lambda learned, stacks, shims_mm: then)
    monkeypatch.setattr(decide, "judged", lambda after, *_: (0.7, 0.8))
    now = stack(*"ABC"), stack(*"DEF"), stack(*"GHI"), stack(*"JKL")
    anew = now[3], now[0], (*now[1], ("M",)), now[2]
    counted = []

    def ahead(alike):
        def minutes(after, discs, on_target, anywhere):
            counted.append((after.apart.sum(), discs[0], on_target[0]))
            return np.array([12.0]), np.array([4.0])

        standing = SimpleNamespace(stands=lambda shoe, packs: packs == now[shoe - 1])
        return SimpleNamespace(
            learned=SimpleNamespace(standing=standing), task=SimpleNamespace(alike=alike),
            stacks=now, outlook=SimpleNamespace(width_n=9.0), minutes=minutes,
        )  # fmt: skip

    move = decide._rebuilt(ahead(True), (anew, shims), False)
    assert counted == [(4 if placed else 1, moved, 0.8)]
    assert move.in_all == 16.0
    assert move.discs_moved == moved
    assert move.stacks == (anew if placed else (now[0], anew[2], now[2], now[3]))
    assert (move.chance, move.on_target, move.shims) == (0.7, 0.8, shims)
    unlike = decide._rebuilt(ahead(False), (anew, shims), False)
    assert unlike.stacks == anew
