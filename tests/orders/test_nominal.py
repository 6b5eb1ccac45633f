import numpy as np
import pytest

from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, free_height, stack_load
from optimizer.model.job import StackRules
from optimizer.orders.catalog_reader import read_catalog
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, _shortlist
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import MOST_SLENDER, STATIC_LIMIT_MPA, Candidate, candidates
from optimizer.orders.onhand import none_on_hand
from optimizer.orders.study import Study
from tests.orders.cases import KART, candidate, clutch, size, stack_of, supplier

EVERY = read_catalog().sizes + supplier().sizes
FOUND = candidates(EVERY, clutch(), Manufacture())


def test_there_are_candidates_and_all_keep_the_limits():
    assert len(FOUND) > 5
    for c in FOUND:
        assert c.size.steepness < np.sqrt(2)
        assert c.share <= clutch().rules.deflection_limit
        assert 10.0 <= c.length_mm <= min(20.0, MOST_SLENDER * c.size.od_mm)
        assert c.stress_mpa <= STATIC_LIMIT_MPA
        assert set(c.pattern.sizes) <= {1, 2}
        assert c.off <= 1


def test_nominal_loads_and_lengths_are_those_of_the_exact_mechanics():
    for c in FOUND[:12]:
        p = packets(*stack_of(c), clutch().model)
        exact = float(stack_load(p, clutch().datum, 1.5)[0])
        assert c.length_mm == pytest.approx(float(free_height(p)[0]), abs=1e-9)
        assert c.load_n == pytest.approx(exact, abs=1e-6)


def test_shims_bring_a_nominal_stack_to_its_target():
    """Installed 0.5 mm longer than the nominal stack wants: out of reach, but for a shim."""
    making, one = Manufacture(), candidate(size("V18-100"), KART, clutch(), Manufacture())
    p = packets(*stack_of(one), clutch().model)
    length = float((free_height(p) - deflection(p, 890.0))[0]) + 1.5 + 0.5
    bare = clutch(datum=Installed(length))
    shimmed = clutch(datum=Installed(length), shims_mm=(0.0, 0.5))
    assert not any(c.pattern == KART for c in candidates((one.size,), bare, making))
    found = candidate(one.size, KART, shimmed, making)
    assert found.shim_mm == 0.5
    assert found.load_n == pytest.approx(890.0, abs=0.01)


def test_least_cost_comes_first():
    merits = [c.merit for c in FOUND]
    assert merits == sorted(merits)


def test_a_height_window_that_nothing_fits_leaves_nothing():
    rules = StackRules(packet_sizes=(1,), free_height_mm=(300.0, 301.0))
    assert candidates(EVERY, clutch(rules=rules), Manufacture()) == []


def test_an_empty_catalog_offers_nothing():
    assert candidates((), clutch(), Manufacture()) == []


def loose_or_not(length_mm: float, **rules: object) -> list[Candidate]:
    rules = StackRules(packet_sizes=(1, 2), **rules)
    return candidates(EVERY, clutch(datum=Installed(length_mm), rules=rules), Manufacture())


def judged(some: list[Candidate]) -> list[JudgedCandidate]:
    return [JudgedCandidate(Study(clutch(), c, Manufacture(), none_on_hand())) for c in some]


def test_what_presses_at_rest_comes_before_what_hangs_loose():
    """The cheapest of these stands 0.2 mm short of its place with the shoe at rest."""
    length = 13.0
    found = loose_or_not(length)
    gaps = [c.gap_mm > 0 for c in found]
    assert 0 < sum(gaps) < len(gaps)
    assert gaps == sorted(gaps)
    assert min(found, key=lambda c: c.merit).gap_mm > 0
    for c in found:
        p = packets(*stack_of(c), clutch().model)
        short = length - float(free_height(p)[0])
        assert c.gap_mm >= short  # what presses with almost nothing counts as loose too
        assert (c.gap_mm > 0) or short < 0
    assert not any(j.candidate.gap_mm for j in _shortlist(judged(found), ConfidenceGoal()))


def test_what_hangs_loose_is_still_offered_where_nothing_presses():
    few = [c for c in loose_or_not(13.0) if c.gap_mm]
    assert _shortlist(judged(few), ConfidenceGoal())


def test_nothing_is_loose_where_the_stack_is_zeroed_by_a_load():
    assert not any(c.gap_mm for c in FOUND)
