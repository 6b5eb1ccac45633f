from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from optimizer.arrangement.pattern import Pattern
from optimizer.orders.build import build, on_target
from optimizer.orders.joint import Way, lay_out
from optimizer.orders.unpack import DEALING, Draw
from optimizer.physics.packet import packets
from optimizer.physics.stack import stack_load
from tests.orders.cases import study


def laid_out(pattern, sets=2, number=0, count=200, **changes):
    of = study(sets, pattern=pattern, **changes)
    return lay_out(Way(of, 0, 0), Draw(5, number), count)


@pytest.mark.parametrize("pattern", [Pattern(7, 1), Pattern(6, 3)])
def test_the_true_loads_of_built_sets_are_those_of_the_exact_mechanics(pattern, monkeypatch):
    """Stack by stack the linear identity is within 0.1 N of solving for the load."""
    on = laid_out(pattern, number=1)
    kept = {}
    import optimizer.orders.build as module

    real = module.deal_sets

    def spy(units, *args):
        kept["dealt"] = real(units, *args)
        return kept["dealt"]

    nested = module._nested

    def spy_nested(on, discs):
        kept["members"] = nested(on, discs)
        return kept["members"]

    monkeypatch.setattr(module, "deal_sets", spy)
    monkeypatch.setattr(module, "_nested", spy_nested)
    built = build(on, 120, np.random.default_rng(1))
    members = kept["members"][kept["dealt"]]  # sets, shoes, packets, seats
    used = members[members >= 0]
    assert len(used) == len(set(used.tolist())) == on.needed
    p = packets(on.unpacked.true, members, on.clutch.model)
    exact = stack_load(p, on.clutch.datum, on.clutch.travel_mm) - on.clutch.target_n
    assert built.off_n == pytest.approx(exact.mean(1), abs=0.7)
    assert built.spread_n == pytest.approx(np.ptp(exact, axis=1), abs=0.4)


def test_too_few_discs_build_nothing():
    on = laid_out(Pattern(7, 1))
    assert not on.may_do(on.needed - 1)
    assert on.may_do(on.needed) in (True, False)


@pytest.mark.parametrize("number", range(6))
def test_the_bound_grows_only_better_with_more_discs(number):
    on = laid_out(Pattern(8), number=number, name="V20-110")
    offs = [abs(on.best_off_n(count)) for count in range(on.needed, 200, 7)]
    assert all(later <= before + 1e-9 for before, later in pairwise(offs))


@pytest.mark.parametrize("number", range(6))
def test_what_the_bound_excludes_by_far_is_not_built(number):
    """Half the tolerance nearer than the bound allows: no dealing puts every set there."""
    on = laid_out(Pattern(8), number=number, name="V20-110", tolerance_n=30.0)
    count = on.needed + 10
    best = abs(on.best_off_n(count) + on.error_n)
    strict = replace(on.clutch, load_tolerance_n=best - 4.0)
    if strict.load_tolerance_n > 0:
        rng = Draw(5, number).rng(DEALING)
        assert not on_target(build(replace(on, clutch=strict), count, rng), strict)


def test_nothing_is_built_where_sets_cannot_match():
    on = laid_out(Pattern(7, 1), sets=1)
    strict = replace(on.clutch, spread_n=1e-9, resolution_n=1e-9)
    assert build(replace(on, clutch=strict), on.needed, np.random.default_rng(0)) is None
    assert not on_target(None, strict)
