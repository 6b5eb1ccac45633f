from dataclasses import replace

import numpy as np
import pytest

from optimizer.bench.ahead import look_ahead
from optimizer.bench.moves import judged_swaps, options
from optimizer.estimate.learn import as_learned, learn, loads
from optimizer.estimate.prior import believe
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import pose
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, load_at
from optimizer.mechanics.state import greatest_share
from optimizer.model.job import Effort, StackRules
from optimizer.model.readings import Reading
from tests.bags import plain_job, seeded_bag
from tests.simulator.setup import WIDTH_N

NO_SHIMS = (0.0, 0.0, 0.0)


def bench(rules, stacks, gaps_n, diameters_mm=0.0):
    """Stacks of a seeded bag read so far from their common level, diameters measured or not."""
    bag, job = seeded_bag(34, 3), plain_job(rules=rules)
    rng = np.random.default_rng(8)
    bag = replace(
        bag,
        discs=tuple(
            replace(d, od_mm=d.od_mm + diameters_mm * rng.uniform(-1, 1)) for d in bag.discs
        ),
    )
    belief = believe(bag, job)
    task = pose(belief, job, np.full(3, job.target.load_n))
    rig = task
    before = loads(learn(rig, (), NO_SHIMS), stacks, NO_SHIMS).mean_n
    job = replace(job, target=replace(job.target, load_n=float(before.mean())))
    readings = [
        Reading(1, s + 1, stacks[s], "settled", before.mean() + gaps_n[s]) for s in range(3)
    ]
    learned = learn(rig, readings, NO_SHIMS)
    posed = as_learned(pose(belief, job, np.full(3, job.target.load_n)), learned)
    return learned, posed, loads(learned, stacks, NO_SHIMS)


def found_moves(task, stacks, now, learned, most=5):
    ahead = look_ahead(learned, task, stacks, now, WIDTH_N, 0.9, Effort())
    return options(ahead, lambda: judged_swaps(ahead), most)


def singles(first, count=9):
    return tuple((f"D{d + 1:02d}",) for d in range(first, first + count))


SINGLES = (singles(0), singles(9), singles(18))
PAIRS = tuple(
    tuple(
        tuple(sorted((f"D{d + 1:02d}", f"D{d + 2:02d}"), key=lambda n: n))
        for d in range(10 * s, 10 * s + 10, 2)
    )
    for s in range(3)
)


@pytest.mark.parametrize("stacks", [SINGLES, PAIRS], ids=["singles", "pairs"])
def test_the_chances_of_an_option_are_those_of_its_stacks_pressed_exactly(stacks):
    learned, task, now = bench(StackRules(packet_sizes=(1, 2)), stacks, (15.0, 0.0, -6.0))
    found = found_moves(task, stacks, now, learned)
    assert found
    for option in found:
        then = loads(learned, option.stacks, NO_SHIMS)
        exact = spread_within(then.mean_n, then.covariance_n2, WIDTH_N)
        assert option.chance == pytest.approx(float(exact), abs=0.04)
    assert found[0].chance > float(spread_within(now.mean_n, now.covariance_n2, WIDTH_N)) + 0.2


def test_options_come_best_first_and_say_where_each_disc_is():
    learned, task, now = bench(StackRules(), SINGLES, (15.0, 0.0, -6.0))
    found = found_moves(task, SINGLES, now, learned)
    minutes = [option.in_all for option in found]
    assert minutes == sorted(minutes)
    for option in found:
        stacks = [list(stack) for stack in SINGLES]
        for e in option.exchanges:
            shoe, packet, seat = e.place
            assert SINGLES[shoe - 1][packet - 1][seat - 1] == e.out
            stacks[shoe - 1][packet - 1] = (e.bring,)
            if e.bring_from is not None:
                shoe, packet, _ = e.bring_from
                assert SINGLES[shoe - 1][packet - 1] == (e.bring,)
                stacks[shoe - 1][packet - 1] = (e.out,)
        assert tuple(map(tuple, stacks)) == option.stacks


def test_discs_that_must_stay_stay_and_those_left_out_stay_out():
    rules = StackRules(
        use=("D01", "D02"), leave=("D28", "D29"), together=(("D03", "D04"), ("D30", "D31"))
    )
    learned, task, now = bench(rules, SINGLES, (15.0, 0.0, -6.0))
    for option in found_moves(task, SINGLES, now, learned, most=100):
        placed = {disc for stack in option.stacks for packet in stack for disc in packet}
        assert {"D01", "D02", "D03", "D04"} <= placed
        assert not placed & {"D28", "D29", "D30", "D31"}


def test_a_height_window_is_kept():
    free = StackRules()
    learned, task, now = bench(free, SINGLES, (15.0, 0.0, -6.0))
    best = found_moves(task, SINGLES, now, learned)[0]
    narrow = replace(task, rules=replace(task.rules, free_height_mm=(1.0, 2.0)))
    assert best.chance > 0
    assert found_moves(narrow, SINGLES, now, learned) == []


def test_nested_discs_whose_diameters_were_measured_are_swapped_too():
    """They differ by some hundredths and are of one size all the same."""
    learned, task, now = bench(StackRules(packet_sizes=(2,)), PAIRS, (15.0, 0.0, -6.0), 0.03)
    found = found_moves(task, PAIRS, now, learned)
    assert any(option.exchanges for option in found)


def test_discs_of_two_sizes_are_never_nested_by_a_swap():
    learned, task, now = bench(StackRules(packet_sizes=(2,)), PAIRS, (15.0, 0.0, -6.0))
    od = task.discs.od_mm.copy()
    od[30:] += 2.0  # the spares D31 to D34 are wider
    mixed = replace(task, discs=replace(task.discs, od_mm=od))
    narrow = found_moves(task, PAIRS, now, learned, most=100)
    assert any(e.bring in ("D31", "D32", "D33", "D34") for o in narrow for e in o.exchanges)
    for option in found_moves(mixed, PAIRS, now, learned, most=100):
        assert not {"D31", "D32", "D33", "D34"} & {e.bring for e in option.exchanges}


def test_no_swap_goes_beyond_the_limit_on_a_worn_drum():
    learned, task, now = bench(StackRules(), SINGLES, (15.0, 0.0, -6.0))

    def share(option):
        p = packets(task.discs, learned.rig.members(option.stacks), task.model)
        further = deflection(p, loads(learned, option.stacks, NO_SHIMS).mean_n)
        worn = load_at(p, further + task.worn_travel_mm - task.travel_mm)
        return float(greatest_share(p, worn).max())

    found = [share(o) for o in found_moves(task, SINGLES, now, learned, most=100)]
    limit = round(float(np.median(found)), 4)
    bound = replace(task, rules=replace(task.rules, worn_limit=limit))
    kept = [share(o) for o in found_moves(bound, SINGLES, now, learned, most=100)]
    assert len(kept) > 0
    # the packets of a swap are looked at under the hardest pressed stack that stands
    assert max(kept) <= limit + 0.005
    assert max(found) > limit + 0.005
