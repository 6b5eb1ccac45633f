import numpy as np
import pytest

from optimizer.estimate.consistency import judge
from optimizer.estimate.learn import learn, loads
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])
WORLD = World(sharp=False, instrument_sd_mm=0.002)


@pytest.fixture(scope="module")
def rig():
    return rig_for(Truth.draw(WORLD, 3), job_for(WORLD))


def expected(rig, stacks=STACKS):
    return loads(learn(rig, (), NO_SHIMS), stacks, NO_SHIMS).mean_n.copy()


def settled(number, shoe, packs, load_n, rebuilt=False):
    return Reading(number, shoe, packs, "settled", load_n, None, rebuilt)


def verdict(rig, readings):
    return judge(learn(rig, readings, NO_SHIMS), readings)


def test_readings_as_expected_raise_no_suspicion(rig):
    said = verdict(
        rig, [settled(1, s + 1, STACKS[s], load) for s, load in enumerate(expected(rig))]
    )
    assert said.fit > 0.99
    assert not said.contradiction
    assert said.suspects == ()
    assert said.repeatability_n is None
    assert said.scatter_factor is None


def swapped(discs):
    """The stacks with disc k of shoe 1 and of shoe 2 exchanged, for every k of `discs`."""
    one, two = list(STACKS[0]), list(STACKS[1])
    for k in discs:
        one[k], two[k] = two[k], one[k]
    return tuple(one), tuple(two), STACKS[2]


def test_a_disc_that_takes_its_error_along_is_named(rig):
    off = 12 * N_PER_LBF
    readings = []
    for number, discs in enumerate([(), (4,), (1, 2), (4, 7)], 1):
        stacks = swapped(discs)
        load = expected(rig, stacks)
        load[1 if 4 in discs else 0] += off  # D04 began under shoe 1
        readings += [settled(number, s + 1, stacks[s], load[s]) for s in range(3)]
    said = verdict(rig, readings)
    assert said.contradiction
    (suspect,) = said.suspects
    assert (suspect.kind, suspect.name) == ("disc", "D04")


def test_a_seat_that_is_off_whatever_the_discs_is_named(rig):
    readings = []
    for number, discs in enumerate([(), (0, 1, 2), (3, 4, 5), (6, 7, 8)], 1):
        stacks = swapped(discs)
        load = expected(rig, stacks)
        load[0] += 12 * N_PER_LBF
        readings += [settled(number, s + 1, stacks[s], load[s]) for s in range(3)]
    (suspect,) = verdict(rig, readings).suspects
    assert (suspect.kind, suspect.name) == ("seat", "shoe 1")


def test_three_sds_off_is_suspect_and_a_little_less_is_not(rig):
    """As README and the simulator's figures of false suspects have it."""

    def read(off_n):
        return [
            settled(number, s + 1, STACKS[s], load + (off_n if s == 0 else 0.0))
            for number in (1, 2)
            for s, load in enumerate(expected(rig))
        ]

    far = 12 * N_PER_LBF
    (suspect,) = verdict(rig, read(far)).suspects
    assert verdict(rig, read(far * 2.9 / abs(suspect.z))).suspects == ()
    (named,) = verdict(rig, read(far * 3.1 / abs(suspect.z))).suspects
    assert named.name == suspect.name
    assert 3.0 < abs(named.z) < 3.2


def test_one_stack_far_off_once_says_that_it_cannot_tell_why(rig):
    load = expected(rig)
    load[2] += 20 * N_PER_LBF
    said = verdict(rig, [settled(1, s + 1, STACKS[s], load[s]) for s in range(3)])
    assert said.contradiction
    (suspect,) = said.suspects
    assert len(suspect.rivals) == 10  # its nine discs, its seat, its build


def test_repeatability_is_the_pooled_sd_of_repeats(rig):
    loads_n = [900.0, 902.0, 904.0]
    said = verdict(rig, [settled(1, 1, STACKS[0], load) for load in loads_n])
    assert said.repeatability_n == pytest.approx(np.std(loads_n, ddof=1))


def test_scatter_much_greater_than_assumed_is_noticed_from_rebuilds(rig):
    rng = np.random.default_rng(1)
    mean = expected(rig)

    def rebuilt(sd_n):
        return [
            settled(number, s + 1, STACKS[s], mean[s] + rng.normal(0, sd_n), True)
            for number in range(1, 9)
            for s in range(3)
        ]

    much = verdict(rig, rebuilt(4 * N_PER_LBF))
    assert much.scatter_told
    assert much.scatter_factor > 4
    # as assumed: 0.4 % a disc over nine in series, and the gauge
    usual = verdict(rig, rebuilt(0.45 * N_PER_LBF))
    assert not usual.scatter_told


def test_the_seating_drop_is_from_first_push_to_settled(rig):
    readings = [
        Reading(1, 2, STACKS[1], "first", 1000.0),
        settled(1, 2, STACKS[1], 975.0),
        Reading(1, 3, STACKS[2], "first", 1000.0),
    ]
    assert verdict(rig, readings).seating_drop == {2: pytest.approx(0.025)}


def test_all_stacks_off_alike_is_a_matter_of_level(rig):
    readings = [settled(1, s + 1, STACKS[s], 1.4 * load) for s, load in enumerate(expected(rig))]
    said = verdict(rig, readings)
    assert said.contradiction
    assert said.suspects[0].kind == "level"
