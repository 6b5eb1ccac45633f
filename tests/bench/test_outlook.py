"""Minutes to come, how near is near enough, and what readings of some stacks tell."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

from optimizer.bench.after import After, drawn, told
from optimizer.bench.ahead import Ahead
from optimizer.bench.outlook import TRIES, TRIES_PER_REACH, Outlook, anew, near_enough, spent
from optimizer.model.job import Effort

WIDTH, WITHIN, REACH = 9.0, 5.0, 6.0
OUTLOOK = Outlook(Effort(), WIDTH, WITHIN, REACH)
#: minutes of one disc exchanged and its stack read
TRY = Effort().exchange + Effort().reading


@pytest.mark.parametrize(
    ("loads_n", "stacks", "spread"),
    [
        ((0.0, 2.0, 5.0), 0, 5.0),  # near enough: done
        ((0.0, 2.0, 5.1), 1, 5.1),
        ((3.0, 20.0, 1.0), 1, 19.0),  # one lies out of line with two
        ((0.0, 20.0, 40.0), 2, 40.0),  # two do
        ((0.0, 30.0), 1, 30.0),
        ((0.0, 30.0, 1.0, 31.0), 2, 31.0),
    ],
)
def test_every_stack_out_of_line_takes_tries_and_more_the_further_apart_they_lie(
    loads_n, stacks, spread
):
    tries = TRIES * stacks + TRIES_PER_REACH * spread / REACH * (stacks > 0)
    assert OUTLOOK.minutes(np.array(loads_n)) == pytest.approx(tries * TRY)
    assert OUTLOOK.minutes(np.array([loads_n, loads_n])).shape == (2,)


def test_work_that_costs_nothing_is_not_done_for_ever():
    free = Outlook(Effort(reading=0.0, exchange=0.0), WIDTH, WITHIN, REACH)
    assert free.minutes(np.array([0.0, 0.0, 9.0])) > 0.0


@pytest.mark.parametrize(
    ("discs", "stacks", "minutes"),
    [(1, 1, 3.0), (2, 2, 6.0), (2, 1, 4.5), (4, 1, 4.5), (9, 3, 13.5)],  # 1.5, 1.5 and 3 each
)
def test_stacks_are_built_anew_where_that_is_quicker_than_exchanging_discs(discs, stacks, minutes):
    assert spent(Effort(), discs, stacks) == minutes
    assert anew(Effort(), 3) == 13.5


@pytest.mark.parametrize(("sd", "stop_at"), [(1.5, 0.9), (2.5, 0.9), (1.5, 0.97)])
def test_two_loads_are_near_enough_by_the_normal_law(sd, stop_at):
    """P(|a + N(0, 2 sd^2)| <= w) of two loads believed a apart, solved for a."""

    def short(apart):
        ends = (np.array([-WIDTH, WIDTH]) - apart) / (np.sqrt(2) * sd)
        return np.diff(norm.cdf(ends))[0] - stop_at

    exact = brentq(short, 0.0, 2 * WIDTH)
    assert near_enough(WIDTH, stop_at, sd, 2) == pytest.approx(exact, abs=0.03 * WIDTH)


def test_loads_that_are_too_doubtful_are_never_near_enough():
    assert near_enough(WIDTH, 0.9, 20.0, 3) == 0.0
    assert near_enough(WIDTH, 0.9, 1e-6, 3) == pytest.approx(WIDTH, abs=0.03 * WIDTH)


@pytest.mark.parametrize("read", [(0,), (1, 2), (0, 1, 2)])
def test_what_a_reading_of_the_remade_stacks_tells_is_the_textbook_update(read):
    """Of a normal vector (L, R) the readings R take C_LR C_RR^-1 C_RL from the covariance of L."""
    rng = np.random.default_rng(4)
    root = rng.normal(size=(3, 3))
    cover, noise = root @ root.T, np.array([0.5, 1.0, 2.0])
    at = list(read)
    both = cover[:, at]
    exact = both @ np.linalg.inv(cover[np.ix_(at, at)] + np.diag(noise[at])) @ both.T
    apart = np.isin(np.arange(3), read)[None]
    found = told(After(np.zeros((1, 3)), cover[None], apart), noise)[0]
    assert found @ found.T == pytest.approx(exact)


@pytest.mark.parametrize("shoes", [2, 3, 4])
def test_few_draws_stand_for_the_normal_law(shoes):
    z = drawn(shoes)
    assert not z.flags.writeable  # one for all who draw
    assert z.mean(0) == pytest.approx(np.zeros(shoes), abs=1e-12)
    assert z.T @ z / len(z) == pytest.approx(np.eye(shoes), abs=1e-12)
    below = (z < 0.7).all(1).mean()
    exact = multivariate_normal(np.zeros(shoes)).cdf(np.full(shoes, 0.7))
    assert below == pytest.approx(exact, abs=0.08)


@pytest.mark.parametrize(
    ("loads_n", "sd", "nearer"),
    [
        ((0.0, 20.0, 30.0), 1.0, True),  # 30 apart, and 40 now
        ((0.0, 20.0, 40.0), 1.0, False),
        ((0.0, 20.0, 50.0), 1.0, False),
        ((0.0, 0.0, 0.0), 3.0, True),
        ((0.0, 0.0, 0.0), 30.0, False),  # in vain: so doubtful that none would be within the width
    ],
)
def test_far_apart_a_move_leads_nearer_unless_it_is_in_vain(loads_n, sd, nearer):
    def loads(mean_n):
        return SimpleNamespace(mean_n=np.array(mean_n), covariance_n2=sd**2 * np.eye(3))

    task = SimpleNamespace(weight=np.ones(3))
    ahead = SimpleNamespace(task=task, outlook=OUTLOOK, now=loads((0.0, 20.0, 40.0)))
    assert Ahead.nearer(ahead, loads(loads_n)) == nearer


@pytest.mark.parametrize("on_target", [1.0, 0.4])
def test_minutes_of_a_move_are_its_own_those_to_come_and_all_anew_off_the_target(on_target):
    """Loads known for sure: nothing is told by reading them, and one lies out of line."""
    sure = After(np.array([[0.0, 20.0, 0.0]]), 1e-12 * np.eye(3)[None], np.array([[1, 0, 0]]) > 0)
    task = SimpleNamespace(weight=np.ones(3))
    ahead = SimpleNamespace(task=task, outlook=OUTLOOK, noise_n2=np.ones(3))
    one = np.array([1])
    spent_on_it, to_come = Ahead.minutes(ahead, sure, one, np.array([on_target]), False)
    assert spent_on_it == [TRY]
    tries = (TRIES + TRIES_PER_REACH * 20.0 / REACH) * TRY
    assert to_come == pytest.approx([tries + (1 - on_target) * anew(Effort(), 3)])
    _, anywhere = Ahead.minutes(ahead, sure, one, np.array([on_target]), True)
    assert anywhere == pytest.approx([tries])
