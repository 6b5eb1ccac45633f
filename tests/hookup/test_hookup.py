"""Ways to a later hookup on a clutch of unequal shoes, on the exact mechanics."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.clutch.engagement import balanced_load_n, speed_rpm
from optimizer.clutch.engine import curve_nm, torque
from optimizer.clutch.shoes import linings_of, shoes_of
from optimizer.control import Limits
from optimizer.errors import InputError
from optimizer.hookup.buy import discs_to_buy, shims_to_buy
from optimizer.hookup.moves import packet_changes, rebuilds, shim_changes
from optimizer.hookup.retarget import retarget
from optimizer.hookup.today import StandingStacks, planned, sd_apart, start
from optimizer.hookup.way import REACHED_RPM, rank, way
from optimizer.io.documents import read_plan
from optimizer.match.result import exact
from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.running import TorqueCurve
from tests.hookup.hookups import found, matched, now, work, write_plan


def wanted(later: float):
    rpm = now().hookup.mean_rpm + later
    return replace(work().task, target_n=balanced_load_n(now().pull_kgm, rpm))


def test_masses_of_the_example_are_three_per_cent_apart():
    mass = shoes_of(work().job).mass_g
    assert mass.max() / mass.min() == pytest.approx(1.03, abs=0.001)


def test_matching_speed_is_ten_times_narrower_than_matching_load():
    task = work().task
    equal = replace(task, target_n=np.full(3, task.target_n.mean()))
    by_load = next(iter(rebuilds(equal, None, Limits(60), 0)))
    assert np.ptp(by_load.work_n) <= 1.02 * task.resolution_n  # as well matched, but in load
    pull = shoes_of(work().job).contact_pull_kgm
    band_by_load = np.ptp(speed_rpm(pull, by_load.work_n))
    band_by_speed = np.ptp(speed_rpm(pull, matched().answer.work_n))
    assert band_by_load > 40  # half of 3 % at 3000 rpm
    assert band_by_load > 10 * band_by_speed


def test_the_example_touches_at_the_speed_asked_for():
    assert now().hookup.touch_rpm == pytest.approx([3000] * 3, abs=1)


@pytest.mark.parametrize("later", [300.0, 600.0])
def test_three_and_six_hundred_later_are_reached(later):
    ways = found(later).ways
    assert found(later).reached
    for one in ways:
        assert abs(one.misses_rpm(3000 + later)) <= REACHED_RPM + 1
        assert one.hookup.band_rpm <= found(later).band_limit_rpm
        assert one.share <= work().task.rules.deflection_limit
    assert {"shims", "discs"} <= {one.kind for one in ways}


@pytest.mark.parametrize("later", [300.0, 600.0])
def test_every_way_holds_on_the_exact_mechanics(later):
    task = work().task
    length = np.asarray(task.datum.length_mm)
    for one in found(later).ways:
        discs = one.answer.stacks[one.answer.stacks >= 0].tolist()
        assert len(discs) == len(set(discs))
        shims = one.answer.shims_mm
        p = packets(task.discs, one.answer.stacks, task.model)
        load = stack_load(p, Installed(length), task.travel_mm, shims)
        assert one.hookup.touch_rpm == pytest.approx(speed_rpm(now().pull_kgm, load))
        on_hand = list(task.rules.shims_mm)
        for shim in (s for each in one.answer.shims for s in each):
            on_hand.remove(shim)  # each piece once


def test_the_least_work_comes_first_and_costs_are_told():
    ways = found(300.0).ways
    assert ways[0].kind == "shims"
    assert ways[0].moved == 0
    added = sum(ways[0].answer.shims[0]) - sum(matched().answer.shims[0])
    assert ways[0].height_mm - found(300.0).today_mm == pytest.approx(added, abs=1e-6)
    assert ways[1].moved > 10
    assert found(300.0).buy == ()
    for one in ways:
        assert 400 < one.tension_mpa < 1500
        assert one.om_mpa < 0


def test_an_earlier_hookup_without_thinner_shims_is_rebuilt():
    earlier = found(-200.0)
    assert earlier.reached
    assert {one.kind for one in earlier.ways} == {"pattern"}
    assert "too high without any" in earlier.buy[0]


def test_beyond_reach_says_what_binds_the_nearest_and_what_to_buy():
    today = matched().answer.stacks
    today = today[today >= 0]
    spare = np.setdiff1d(work().task.usable, today)[:3]  # a smaller bag is sooner looked through
    few = replace(work().task, usable=np.union1d(today, spare))
    spread = work().job.target.spread_tolerance_n
    far = retarget(few, spread, now(), now().hookup.mean_rpm + 3500, Limits(60))
    assert not far.reached
    assert far.nearest is not None
    assert far.nearest.share <= work().task.rules.deflection_limit
    assert 3000 < far.nearest.hookup.mean_rpm < 6500 - REACHED_RPM
    assert "can be built from the 30 usable discs" in far.reasons[0]
    assert any("thick" in line for line in far.buy)
    assert "would be pressed to" in far.buy[0]


def test_a_speed_far_beyond_reach_blames_no_key_of_the_job():
    """The load follows from the speed: who looks at [target] finds nothing to mend there."""
    far = retarget(work().task, 9.0, now(), 4 * now().hookup.mean_rpm, Limits(60))
    assert far.reasons
    assert not any("looks wrong" in reason for reason in far.reasons)


def test_no_disc_is_named_where_none_would_do_it():
    assert list(discs_to_buy(wanted(27_000.0))) == []


def test_the_discs_to_buy_would_do_it():
    task = wanted(3500.0)
    said = next(iter(discs_to_buy(task)))
    thickness = float(said.split(" discs ")[1].split()[0])
    assert thickness != pytest.approx(np.median(task.discs.thickness_mm), rel=0.02)
    assert "3 x (" in said


def test_the_shims_to_buy_give_the_speed():
    task = wanted(450.0)
    (said,) = shims_to_buy(task, matched().answer)
    shims = tuple((float(part.split()[0]),) for part in said.split("shoe by shoe ")[1].split(", "))
    load = exact(task, matched().answer.stacks, shims, 0.0).work_n
    assert speed_rpm(now().pull_kgm, load) == pytest.approx([3450] * 3, abs=2)


def test_packets_come_and_go_one_in_each_stack():
    today = matched().answer
    for what, answer in packet_changes(wanted(-100.0), today):
        for new, old in zip(answer.stacks, today.stacks, strict=True):
            old, new = ({tuple(p) for p in s.tolist() if max(p) >= 0} for s in (old, new))
            gone, come = old - new, new - old
            assert (len(gone), len(come)) == ((1, 0) if "taken away" in what else (0, 1))
    # discs that must share a shoe, or must be used, are not taken away
    bound = replace(wanted(-100.0), use=today.stacks[today.stacks >= 0])
    assert not [what for what, _ in packet_changes(bound, today) if "away" in what]


def test_shims_are_no_way_on_the_seating_datum():
    seated = replace(wanted(300.0), datum=Seating(27.0))
    assert list(shim_changes(seated, matched().answer)) == []


def test_rank_puts_what_reaches_first():
    task = wanted(300.0)
    far = way(task, now().pull_kgm, "shims", "as today", matched().answer, matched().answer)
    assert rank([far, *found(300.0).ways], 3300, 18)[-1] is far


def test_load_and_rpm_of_today_stand_in_for_the_masses():
    job = work().job
    bare = replace(job, shoes=tuple(replace(s, mass_g=None, cg_radius_mm=None) for s in job.shoes))
    _, where = start(work().task, bare, None, 700.0, 3100.0)
    assert where.hookup.touch_rpm == pytest.approx([3100] * 3)
    # four times the load is twice the speed
    assert balanced_load_n(where.pull_kgm, 6200) == pytest.approx([2800] * 3)
    with pytest.raises(InputError, match="Add shoe_mass_g"):
        start(work().task, bare, None, 700.0, None)
    with pytest.raises(InputError, match="--load-now and --rpm-now"):
        start(work().task, bare, None, None, 3100.0)


def as_planned():
    answer = matched().answer
    return StandingStacks("plan.json", answer, answer.work_n, np.zeros(3))


def test_a_measured_load_sets_the_load_factor_and_a_seen_speed_the_pull():
    task, where = start(work().task, work().job, as_planned(), 750.0, 3200.0)
    assert where.load_n.mean() == pytest.approx(750)
    assert where.hookup.mean_rpm == pytest.approx(3200)
    assert where.hookup.band_rpm < 2  # unlike masses keep their ratio
    assert task.model.load_factor == pytest.approx(750 / matched().answer.work_n.mean())
    with pytest.raises(InputError, match="Check the unit"):
        start(work().task, work().job, as_planned(), 160.0, None)


def test_ways_that_press_at_rest_come_before_those_that_hang_loose():
    task = work().task
    for later in (300.0, 600.0, -200.0):
        for one in found(later).ways:
            assert one.loose == bool((one.answer.rest_n < LOOSE * task_target(later)).any())
        assert [one.loose for one in found(later).ways] == sorted(
            one.loose for one in found(later).ways
        )
    one = found(300.0).ways[0]
    hangs = replace(one, loose=True)
    assert rank([hangs, replace(one, kind="pattern")], 3300, 18)[-1] is hangs
    # 0.02 of the load is the border, not 0: such a stack rattles too
    hardly = replace(matched().answer, rest_n=0.01 * matched().answer.work_n)
    assert way(task, now().pull_kgm, "shims", "as today", hardly, None).loose


def task_target(later):
    return wanted(later).target_n


def test_shims_and_discs_to_buy_say_where_they_would_hang_loose():
    low = replace(wanted(300.0), datum=Installed(np.asarray(work().task.datum.length_mm) + 1.2))
    (said,) = shims_to_buy(low, matched().answer)
    thick = float(said.split("shoe by shoe ")[1].split()[0])
    rest = exact(low, matched().answer.stacks, ((thick,),) * 3, 0.0).rest_n
    assert ("LOOSE" in said) == bool((rest < LOOSE * low.target_n).any())
    lines = list(discs_to_buy(low))
    assert [("LOOSE" in line) for line in lines] == sorted("LOOSE" in line for line in lines)


def test_what_loads_share_in_proportion_is_not_told_as_their_own_doubt():
    load, own = np.array([660.0, 680.0, 720.0]), np.array([5.0, 6.0, 7.0])
    shared = 0.05  # of the load factor
    cover = np.diag(own**2) + np.outer(shared * load, shared * load)
    assert sd_apart(cover, load) == pytest.approx(own)
    assert sd_apart(np.diag(own**2), load) == pytest.approx(own)


def test_full_throttle_is_held_from_where_clutch_and_engine_carry_alike():
    curve = TorqueCurve((2000.0, 5000.0, 8000.0, 13000.0), (8.0, 14.0, 17.0, 11.0))
    linings = linings_of(work().job)
    at = replace(now(), linings=linings, curve=curve)
    rpm = at.holds_rpm(at.pull_kgm, at.load_n)
    carried = torque(at.pull_kgm, linings, at.load_n, np.array([rpm])).total_nm
    assert carried == pytest.approx([float(curve_nm(curve)(rpm))], rel=1e-6)
    assert now().holds_rpm(at.pull_kgm, at.load_n) is None
    grabs = replace(linings, drag=np.full(3, 1 / linings.friction))
    assert replace(at, linings=grabs).holds_rpm(at.pull_kgm, at.load_n) is None


def test_a_plan_of_another_clutch_is_refused(tmp_path):
    one = read_plan(write_plan(tmp_path)).sets[0]
    assert planned(work().task, one, "plan.json").work_n == pytest.approx(matched().answer.work_n)
    with pytest.raises(InputError, match=r"plan.json: Expected 3 stacks, got 2"):
        planned(work().task, replace(one, stacks=one.stacks[:2]), "plan.json")
    wide = replace(work().task, datum=Installed(np.asarray(work().task.datum.length_mm) + 3.0))
    with pytest.raises(InputError, match="The stack of shoe 1 does not press at the travel"):
        planned(wide, one, "plan.json")


def test_a_disc_that_must_be_used_is_in_the_one_set_that_is_built_anew():
    task = wanted(300.0)
    bound = replace(task, use=task.usable[-1:])
    [answer] = rebuilds(bound, None, Limits(60), 0)
    assert set(bound.use.tolist()) <= answer.discs
    assert speed_rpm(now().pull_kgm, answer.work_n) == pytest.approx([3300] * 3, abs=5)
