from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, free_height, stack_load
from optimizer.model.pattern import Pattern
from optimizer.orders.build import build, first_built_n, on_target
from optimizer.orders.joint import lay_out
from optimizer.orders.like_discs import LikeDiscs, like_constants
from optimizer.orders.lot import deliver
from optimizer.orders.nominal import keeps_limits
from optimizer.orders.unpack import DEALING, DeliveryDraw
from tests.orders.cases import candidate, installed, study


def laid_out(pattern, sets=2, number=0, count=200, **changes):
    of = study(sets, pattern=pattern, **changes)
    return lay_out(of, DeliveryDraw(5, number), count)


def in_clutch(on, clutch):
    """The same discs, to be dealt for a clutch that is another in something."""
    return replace(on, study=replace(on.study, clutch=clutch))


@pytest.mark.parametrize("pattern", [Pattern(7, 1), Pattern(6, 3)])
def test_the_true_loads_of_built_sets_are_those_of_the_exact_mechanics(pattern):
    """Stack by stack the linear identity is within 0.1 N of solving for the load."""
    on = laid_out(pattern, number=1)
    built = build(on, 120, np.random.default_rng(1))
    used = built.members[built.members >= 0]
    assert len(used) == len(set(used.tolist())) == on.study.needed
    exact = exact_loads(on, built) - on.study.clutch.target_n
    assert built.off_n == pytest.approx(exact.mean(1), abs=0.7)
    still = in_clutch(on, replace(on.study.clutch, scatter=0.0))
    built = build(still, 120, np.random.default_rng(1))
    spread = first_built_n(still, built, np.random.default_rng(1))
    assert spread == pytest.approx(np.ptp(exact, axis=1), abs=0.4)


@pytest.mark.parametrize(
    ("name", "pattern", "flat_mm"),
    [("V18-100", Pattern(7, 1), 0.0), ("V20-110", Pattern(9, 1), 0.15)],
)
def test_the_true_spread_is_that_of_sets_as_they_are_first_built(name, pattern, flat_mm):
    """Edges, flats and shoes drawn beside the program's own draws, the stacks solved for.

    24 deliveries of 2 sets, each built 20 times: the mean spread is known to 5 %.
    """
    said, drawn = [], []
    rng = np.random.default_rng(11)
    for number in range(24):
        on = laid_out(pattern, number=number, name=name, flat_mm=flat_mm)
        true, clutch = on.unpacked.true, replace(on.study.clutch, scatter=0.02, place_sd_mm=0.01)
        on = in_clutch(on, clutch)
        built = build(on, 120, np.random.default_rng(number))
        if built is None:
            continue
        said += first_built_n(on, built, np.random.default_rng(number)).tolist()
        for _ in range(20):
            edges = 0.02 * rng.standard_normal(len(true.factor))
            off = 0.02 * rng.standard_normal(len(true.factor)) * (flat_mm > 0)
            own = replace(
                true, factor=true.factor * np.exp(edges), flat_mm=np.abs(true.flat_mm + off)
            )
            p = packets(own, built.members, clutch.model)
            travel = clutch.travel_mm + 0.01 * rng.standard_normal(built.members.shape[:2])
            load = stack_load(p, clutch.datum, travel, built.shim_mm)
            drawn += np.ptp(load, axis=1).tolist()
    assert len(said) > 36
    assert np.mean(said) == pytest.approx(np.mean(drawn), rel=0.12)


def exact_loads(on, built):
    """True loads of sets (sets, shoes), solved for."""
    p = packets(on.unpacked.true, built.members, on.study.clutch.model)
    return stack_load(p, on.study.clutch.datum, on.study.clutch.travel_mm, built.shim_mm)


def test_shims_put_the_stacks_of_a_lot_off_target_on_target():
    """Installed 0.1 mm too long for every disc of the lot: a shim of 0.1 mm makes up for it."""
    plain = laid_out(Pattern(7, 1), number=1)
    free = free_height(packets(plain.unpacked.true, stack_of(plain), plain.study.clutch.model))
    length = float(free.mean()) - 0.05
    datum = Installed(length + 0.1)
    travel = length - height_at(plain, plain.study.clutch.target_n)
    to = replace(plain.study.clutch, datum=datum, travel_mm=travel)
    bare, shimmed = (
        lay_out(replace(study(2), clutch=one), DeliveryDraw(5, 1), 200)
        for one in (to, replace(to, shims_mm=(0.0, 0.1)))
    )
    assert not bare.may_do(plain.study.needed)
    assert shimmed.may_do(plain.study.needed)
    built = build(shimmed, plain.study.needed, np.random.default_rng(1))
    assert built.shim_mm == 0.1
    assert on_target(built, to)
    exact = exact_loads(shimmed, built).mean(1) - to.target_n
    assert built.off_n == pytest.approx(exact, abs=0.7)


def stack_of(on):
    """The first discs in a stack: 7 singles and a pair."""
    return np.array([[k, -1] for k in range(7)] + [[7, 8]])[None]


def height_at(on, load_n):
    """Mean height in mm of stacks of discs like each under a load."""
    each = np.arange(60)[:, None, None]
    members = np.where(stack_of(on) >= 0, each, -1)
    p = packets(on.unpacked.true, members, on.study.clutch.model)
    return float((free_height(p) - deflection(p, load_n)).mean())


@pytest.mark.parametrize("factor", [0.97, 1.0, 1.02])
def test_what_the_gauge_tells_of_near_candidates_is_close_to_exact(factor):
    """Between two factors the constants are taken to be straight in its logarithm."""
    of = study(1)
    unpacked = lay_out(of, DeliveryDraw(5, 1), 60).unpacked
    near, exact = (like_constants(of, unpacked, {1, 2}, f) for f in (factor * 1.002, factor))
    error_n = (near.learned(factor) - exact.gauged)[:2] * of.candidate.rate_n_per_mm
    assert np.abs(error_n).max() < 0.05


def test_stacks_that_break_a_limit_are_not_built():
    """Windows that the sets built just miss: of free height, of deflection, on a worn drum."""
    on = laid_out(Pattern(7, 1), number=1)
    built = build(on, 120, np.random.default_rng(1))
    p = packets(on.unpacked.believed, built.members, on.study.clutch.model)
    height = free_height(p)
    for rules in (
        {"free_height_mm": (10.0, float(height.max()) - 1e-6)},
        {"free_height_mm": (12.5, 20.0)},  # taller than any dealing of these discs
        {"deflection_limit": 0.45},
        {"worn_limit": 0.5},
    ):
        bound = replace(on.study.clutch, rules=replace(on.study.clutch.rules, **rules))
        assert build(in_clutch(on, bound), 120, np.random.default_rng(1)) is None


def test_in_a_room_stacks_press_at_rest():
    on = laid_out(Pattern(7, 1), number=1)
    built = build(on, 120, np.random.default_rng(1))
    height = free_height(packets(on.unpacked.believed, built.members, on.study.clutch.model))
    pressed = 0.02 * on.study.clutch.target_n / on.study.candidate.rate_n_per_mm
    for more, kept in ((-1e-6, True), (1e-6, False)):
        place = replace(on.study.clutch, datum=Installed(float(height.min()) - pressed + more))
        of = on.study.candidate, place, on.unpacked.believed, built.members, 0.0
        assert keeps_limits(*of) == kept


def test_softer_discs_on_thicker_shims_press_where_those_most_alike_would_rattle():
    """Deliveries of which no set can be built on the shims that leave the discs most alike."""
    of = installed(0.1, (0.0, 0.05, 0.1, 0.15, 0.2))
    to = replace(of.clutch, sets=1, spread_n=500.0)
    of = replace(of, clutch=to)
    for number in (17, 25, 31):
        on = lay_out(of, DeliveryDraw(0, number), 81)
        first, *others = on.shims(81)
        assert [to.shims_mm[k] for k in others] == sorted(to.shims_mm[k] for k in others)
        built = build(on, 81, np.random.default_rng(0))
        assert built.shim_mm > to.shims_mm[first]
        discs = on.unpacked.believed
        assert keeps_limits(on.study.candidate, to, discs, built.members, built.shim_mm)
        load = stack_load(packets(discs, built.members, to.model), to.datum, 1.5, built.shim_mm)
        assert np.abs(load - 890.0).max() <= 22.0


def test_the_polynomial_of_like_discs_is_the_exact_mechanics():
    """Within 20 nm over what is delivered, a hundredth of a newton of a stack."""
    for name, flat_mm in (("V18-100", 0.0), ("V20-110", 0.15), ("V22-125", 0.0)):
        of = study(1, name, Pattern(9, 1) if name != "V18-100" else Pattern(7, 1), flat_mm=flat_mm)
        sold = of.candidate.size
        discs, _ = deliver(sold, of.making, DeliveryDraw(7, 0).rng(0), 300)
        for packet in (1, 2):
            members = np.repeat(np.arange(300)[:, None], packet, axis=1)
            exact = packet_constant(
                discs, members, of.clutch.model, of.clutch.datum, of.clutch.target_n
            )
            near = LikeDiscs.of(of).constant_mm(packet, discs)
            assert np.abs(near - exact).max() < 2e-5


def test_too_few_discs_build_nothing():
    on = laid_out(Pattern(7, 1))
    assert build(on, on.study.needed - 1, np.random.default_rng(0)) is None
    assert not on.may_do(on.study.needed - 1)
    assert on.may_do(on.study.needed) in (True, False)


@pytest.mark.parametrize("number", range(6))
def test_the_bound_grows_only_better_with_more_discs(number):
    on = laid_out(Pattern(8), number=number, name="V20-110")
    offs = [abs(on.least_off_n(count)[0]) for count in range(on.study.needed, 200, 7)]
    assert all(later <= before + 1e-9 for before, later in pairwise(offs))


@pytest.mark.parametrize("number", range(6))
def test_what_the_bound_excludes_by_far_is_not_built(number):
    """Half the tolerance nearer than the bound allows: no dealing puts every set there."""
    on = laid_out(Pattern(8), number=number, name="V20-110", tolerance_n=30.0)
    count = on.study.needed + 10
    best = abs(on.least_off_n(count)[0] + on.error_n)
    strict = replace(on.study.clutch, load_tolerance_n=best - 4.0)
    if strict.load_tolerance_n > 0:
        rng = DeliveryDraw(5, number).rng(DEALING)
        assert not on_target(build(in_clutch(on, strict), count, rng), strict)


def test_discs_chosen_for_what_was_measured_are_truly_where_the_planner_takes_them_to_be():
    """In a room thickness and height err apart, so that the tallest discs are not quite so tall.

    Lots too low for their room, of which the tallest third is chosen: 2 N and more, were it not
    for that.
    """
    of = installed(0.0, (0.0,))
    to = replace(of.clutch, spread_n=500.0, load_tolerance_n=500.0, pressing=False)
    nine = candidate(of.candidate.size, Pattern(9), to, of.making)
    of = replace(of, clutch=to, candidate=nine)
    apart, plain = [], []
    for number in range(60):
        on = lay_out(of, DeliveryDraw(3, number), 330)
        off, truly = on.least_off_n(330)
        if abs(off) > 5.0:  # the best of the lot, and no nearer
            built = build(on, 330, np.random.default_rng(0))
            apart.append(built.off_n.mean() - truly)
            plain.append(built.off_n.mean() - off - on.error_n)
    assert len(apart) >= 10
    assert abs(np.mean(apart)) < 2 * np.std(apart) / np.sqrt(len(apart)) + 0.5
    assert abs(np.mean(plain)) > 2.0


def test_nothing_is_built_where_sets_cannot_match():
    on = laid_out(Pattern(7, 1), sets=1)
    strict = replace(on.study.clutch, spread_n=1e-9, resolution_n=1e-9)
    assert build(in_clutch(on, strict), on.study.needed, np.random.default_rng(0)) is None
    assert not on_target(None, strict)
