"""Which exchanges are made at once, against every one of a small bench listed by hand."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from optimizer.bench.ahead import look_ahead
from optimizer.bench.candidates import MOST_WITHIN, SINGLE, candidates
from optimizer.model.job import Effort, StackRules
from tests.bench.test_moves import PAIRS, SINGLES, bench
from tests.simulator.setup import WIDTH_N


def looked_ahead(stacks, gaps_n):
    learned, task, now = bench(StackRules(packet_sizes=(1, 2)), stacks, gaps_n)
    return look_ahead(learned, task, stacks, now, WIDTH_N, 0.9, Effort())


@pytest.fixture(scope="module", params=[SINGLES, PAIRS], ids=["singles", "pairs"])
def ahead(request):
    return looked_ahead(request.param, (15.0, 0.0, -6.0))


def spread(ahead, row):
    """Spread of the loads as believed after exchanges."""
    return np.ptp((ahead.now.mean_n + ahead.change_n[list(row)].sum(0)) * ahead.task.weight)


def places(ahead, row):
    """Every disc, and every packet, that an exchange takes apart."""
    swaps = ahead.swaps
    held = zip(swaps.stack[row], swaps.packet[row], strict=True)
    return set(swaps.disc[row].tolist()), {(s, p) for s, p in held if s >= 0}


def clash(ahead, i, j):
    """Whether two exchanges share a disc or a packet."""
    (discs, packets), (others, also) = places(ahead, i), places(ahead, j)
    return bool(discs & others or packets & also)


def test_single_exchanges_of_one_stack_and_of_two_are_those_that_bring_loads_nearest(ahead):
    rows = next(candidates(ahead))[:, 0]
    opened = ahead.touched.sum(1)
    for stacks in (1, 2):
        every = np.flatnonzero(opened == stacks)
        nearest = sorted(spread(ahead, [k]) for k in every)[:SINGLE]
        kept = [spread(ahead, [k]) for k in rows if opened[k] == stacks]
        assert kept == pytest.approx(nearest)


def test_exchanges_made_at_once_share_no_disc_and_no_packet(ahead):
    at_once = [row for rows in candidates(ahead) for row in rows if len(row) > 1]
    assert {len(row) for row in at_once} == {2, 3, MOST_WITHIN}
    for row in at_once:
        assert not any(clash(ahead, i, j) for i, j in combinations(row, 2))


def test_several_exchanges_of_a_stack_are_with_spares_and_of_that_stack_alone(ahead):
    _, _, *within = candidates(ahead)
    assert len(within) == (MOST_WITHIN - 1) * len(ahead.stacks)
    for rows in within:
        (shoe,) = np.flatnonzero(ahead.touched[rows.ravel()].any(0))
        assert (ahead.touched[rows].sum(-1) == 1).all()
        assert ahead.touched[rows][..., shoe].all()
        assert len(np.unique(rows, axis=0)) == len(rows)
        assert (np.diff(rows, axis=1) > 0).all()


def test_two_exchanges_of_a_stack_with_few_spares_are_the_best_of_all():
    """So few that none is thinned out, of a stack that alone is out of line."""
    ahead = looked_ahead(SINGLES, (15.0, 0.0, 0.0))
    own = np.flatnonzero(ahead.touched[:, 0] & (ahead.touched.sum(1) == 1))[:14]
    alone = replace(
        ahead,
        swaps=ahead.swaps.take(own),
        change_n=ahead.change_n[own],
        touched=ahead.touched[own],
    )
    pairs = combinations(range(len(own)), 2)
    best = min(spread(alone, pair) for pair in pairs if not clash(alone, *pair))
    _, _, two, *_ = candidates(alone)
    assert two.shape[1] == 2
    assert min(spread(alone, row) for row in two) == pytest.approx(best)
