"""Ways that change the clutch and not its stacks, discs that are sold, and how far each leads."""

import re
from dataclasses import replace

import numpy as np
import pytest

from optimizer.clutch.engagement import balanced_load_n, speed_rpm
from optimizer.clutch.shoes import shoes_of
from optimizer.hookup.buy import SHIM_STEP_MM, sold_ways
from optimizer.hookup.reachable import ranges
from optimizer.hookup.workshop import MOST_MASS, workshop_ways
from optimizer.match.infeasibility import reached
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import load_at, required_deflection, stack_load
from optimizer.model.catalog import Band, Offer, Size, SizeTolerances, Supplier
from optimizer.model.job import Effort
from tests.hookup.hookups import found, now, work


def weighed():
    return replace(now(), mass_g=shoes_of(work().job).mass_g)


def ways(later, task=None):
    at = weighed()
    rpm = at.hookup.mean_rpm + later
    wanted = replace(task or work().task, target_n=balanced_load_n(at.pull_kgm, rpm))
    return {one.kind: one for one in workshop_ways(wanted, at, rpm)}, rpm


@pytest.mark.parametrize("later", [150.0, -150.0])
def test_a_spacer_or_a_deeper_seat_gives_the_speed_on_the_exact_mechanics(later):
    found, rpm = ways(later)
    one = found["spacer"]
    assert (one.spacer_mm > 0) == (later > 0)
    today = now().stacks
    task = work().task
    p = packets(task.discs, today.stacks, task.model)
    room = np.asarray(task.datum.length_mm) - one.spacer_mm
    shims = today.shims_mm
    load = stack_load(p, Installed(room), task.travel_mm, shims)
    assert speed_rpm(now().pull_kgm, load).mean() == pytest.approx(rpm, abs=0.5)
    assert one.hookup.mean_rpm == pytest.approx(rpm, abs=0.5)
    assert one.moved == 0


@pytest.mark.parametrize("later", [300.0, -250.0])
def test_lighter_shoes_come_in_later_each_by_itself(later):
    found, rpm = ways(later)
    one = found["mass"]
    mass = shoes_of(work().job).mass_g
    # the pull is in proportion to the mass: m r omega^2 = load
    new = now().pull_kgm * (mass + np.array(one.mass_change_g)) / mass
    assert speed_rpm(new, now().load_n) == pytest.approx([rpm] * 3)
    assert (one.mass_change_g[0] < 0) == (later > 0)
    assert one.mass_share == pytest.approx((now().hookup.mean_rpm / rpm) ** 2, rel=1e-4)


def test_what_no_shoe_can_lose_and_no_spacer_can_do_is_no_way():
    assert "mass" not in ways(2000.0)[0]
    assert "spacer" not in ways(2000.0)[0]  # beyond the deflection limit
    seated = replace(work().task, datum=Seating(27.0))
    assert "spacer" not in ways(100.0, seated)[0]


def test_ways_tell_their_chance_and_their_minutes():
    effort = Effort()
    for one in found(300.0).ways:
        assert 0 < one.chance < 1
        per_stack = effort.exchange if one.kind == "shims" else effort.build
        assert one.minutes == pytest.approx(3 * (per_stack + effort.reading))
    numbered = found(300.0).numbered
    assert numbered[: len(found(300.0).ways)] == found(300.0).ways
    assert {one.kind for one in found(300.0).workshop} <= {"spacer", "mass"}


def test_the_ranges_hold_what_was_found():
    told = {one.what: one for one in ranges(work().task, weighed(), 3000.0)}
    shims = told["today's stacks on shims on hand"]
    assert shims.low_rpm <= found(300.0).ways[0].hookup.mean_rpm <= shims.high_rpm
    spacer = told["today's stacks on any spacer"]
    assert spacer.low_rpm < shims.high_rpm <= spacer.high_rpm + 1
    # at the low end a stack just fills its room at rest
    task, today = work().task, now().stacks
    p = packets(task.discs, today.stacks, task.model)
    just = load_at(p, task.travel_mm)
    assert spacer.low_rpm == pytest.approx(speed_rpm(now().pull_kgm, just).max())
    mass = next(one for what, one in told.items() if "on or off" in what)
    mean = now().hookup.mean_rpm
    assert mass.high_rpm == pytest.approx(mean / (1 - MOST_MASS) ** 0.5)


def test_where_no_pattern_leads_the_speeds_on_either_side_are_told():
    """From 135 to 4890 rpm, it said, and nothing lay between 3510 and 4890."""
    rpm = np.sort([speed_rpm(now().pull_kgm, one.load_n).mean() for one in reached(work().task)])
    widest = int(np.diff(rpm).argmax())
    asked = float(rpm[widest : widest + 2].mean())
    (of_patterns,) = (one for one in ranges(work().task, weighed(), asked) if one.about)
    assert of_patterns.gap_rpm == pytest.approx(tuple(rpm[widest : widest + 2]))
    (beyond,) = (one for one in ranges(work().task, weighed(), rpm[-1] + 1) if one.about)
    assert beyond.gap_rpm is None


def sold(name, od, bore, t, h, offer):
    exact = SizeTolerances(*[Band()] * 5)
    return Size(name, od, bore, t, h, 206_000.0, exact, currency="EUR", offers=(offer,))


def test_sold_sizes_are_counted_and_give_what_is_said():
    task, at = work().task, weighed()
    rpm = at.hookup.mean_rpm + 200
    wanted = replace(task, target_n=balanced_load_n(at.pull_kgm, rpm))
    t = float(np.median(task.discs.thickness_mm))
    h = float(np.median(task.discs.cone_height_mm))
    od, bore = float(np.median(task.discs.od_mm)), float(np.median(task.discs.id_mm))
    sizes = [
        sold("as in the bag", od, bore, t, h, Offer("", 50, 20.0)),
        sold("thick", od, bore, 1.1 * t, h, Offer("", 10, 5.0)),
        sold("too large", od + 3, bore, t, h, Offer("", 10, 1.0)),
    ]
    told = {one.size: one for one in sold_ways(wanted, at, rpm, sizes)}
    assert "too large" not in told
    for name, one in told.items():
        size = next(o for o in sizes if o.name == name)
        assert one.discs % 3 == 0
        assert one.packs * one.pack >= one.discs - one.have
        assert (one.packs - 1) * one.pack < max(one.discs - one.have, 1)
        assert one.cost == pytest.approx(one.packs * size.offers[0].price)
        assert one.shim_mm / SHIM_STEP_MM == pytest.approx(round(one.shim_mm / SHIM_STEP_MM))
        # again on the exact mechanics, from the pattern as it is said
        disc = discs([od], bore, size.thickness_mm, size.cone_height_mm)
        nested = {"single": 1, "pair": 2, "triple": 3}
        row = [
            [0] * nested[kind] + [-1] * (3 - nested[kind])
            for count, kind in re.findall(r"(\d+) (single|pair|triple)", one.pattern)
            for _ in range(int(count))
        ]
        assert one.discs == 3 * sum(place == 0 for packet in row for place in packet)
        p = packets(disc, np.array([row]), task.model)
        need = required_deflection(p, task.datum_of(0), task.travel_mm[0], one.shim_mm)
        load = load_at(p, need)
        assert one.rpm == pytest.approx(float(speed_rpm(at.pull_kgm, load).mean()), abs=0.1)
    assert told["as in the bag"].have > 0
    assert told["thick"].have == 0


def test_an_offer_holds_from_so_many_packs_on_as_far_as_the_stock_goes():
    offer = Offer("a", 10, 5.0, from_packs=3, stock_packs=4, supplier=Supplier("b", 7.5))
    assert [offer.packs_for(n) for n in (0, 1, 31, 41)] == [0, 3, 4, None]
    assert [offer.cost_of(n) for n in (0, 3)] == [0.0, 22.5]
