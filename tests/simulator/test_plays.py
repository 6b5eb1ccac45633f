"""The experiment tables in small: a few bags a row, wide margins."""

import numpy as np
import pytest

from tests.simulator import play, sets
from tests.simulator.setup import job_for
from tests.simulator.truth import Truth, World
from tests.simulator.write import markdown

BAGS = 5


@pytest.fixture(scope="module")
def learned():
    world = World(sharp=True, instrument_sd_mm=0.002)
    return [play.with_learning(Truth.draw(world, s), job_for(world)) for s in range(BAGS)]


def test_learning_ends_with_sets_that_truly_match(learned):
    assert all(p.within for p in learned)
    assert np.mean([p.builds for p in learned]) < 5


def test_a_sharp_set_is_told_that_its_match_does_not_survive(learned):
    assert np.mean([p.apart_odds for p in learned]) < 0.6


def test_going_by_readings_alone_stops_sooner_and_less_surely():
    world = World(sharp=True, instrument_sd_mm=0.010)
    played = [
        play.without_learning(Truth.draw(world, s), job_for(world), rule)
        for s in range(BAGS)
        for rule in (play.best_swap, play.high_low_swap, play.random_swap)
    ]
    assert np.mean([p.within for p in played]) < 0.95
    assert all(p.first_builds >= 1 for p in played)


def test_the_advice_ranks_as_the_hidden_bench_does():
    world = World(sharp=True, instrument_sd_mm=0.010)
    ways = ("as they are", "dress", "groups of three")
    odds = [np.mean([sets.advised(world, s, way).odds for s in range(3)]) for way in ways]
    assert odds == sorted(odds)


def test_tables_are_written_of_whatever_is_there(learned):
    from dataclasses import asdict

    done = {
        ("rounds", "sharp + micrometer | learning", seed): asdict(p)
        for seed, p in enumerate(learned)
    }
    text = markdown(done, BAGS)
    assert f"| sharp + micrometer | learning | {BAGS} |" in text
