from dataclasses import replace

import pytest

from optimizer.io.bag.checks import repeats_odd
from optimizer.io.bag.repeats import averaged, check_repeats, differing, grouped
from optimizer.io.bag.rows import Measurement
from optimizer.io.columns import Column
from optimizer.model.bag import Repeats
from optimizer.model.job import Instrument

COLUMNS = {"thickness": Column(1, "thickness_mm"), "cone_height": Column(2, "cone_height_mm")}


def row(line, thickness, cone_height=0.42, name="A", **words):
    lengths = {"thickness": thickness, "cone_height": cone_height}
    return Measurement(line, name, lengths, {"edge": "sharp", "lot": "", "note": "", **words})


def test_rows_of_a_disc_come_together_in_the_order_of_the_file():
    rows = [row(2, 1), row(3, 1, name="B"), row(4, 1.001)]
    assert [[r.line for r in group] for group in grouped(rows)] == [[2, 4], [3]]


def test_the_mean_is_taken():
    mean = averaged([row(2, 1.05), row(3, 1.052, 0.43), row(4, 1.054, 0.425)])
    assert mean.lengths["thickness"] == pytest.approx(1.052)
    assert mean.lengths["cone_height"] == pytest.approx(0.425)
    assert mean.line == 2


def test_how_far_repeats_may_differ_follows_the_instrument():
    pair = [row(2, 1.05), row(3, 1.08)]
    micrometer = Instrument(thickness_sd_mm=0.002)  # six sds of a difference: 0.017 mm
    caliper = replace(micrometer, thickness_sd_mm=0.01)  # 0.085 mm
    assert len(list(check_repeats("bag.csv", COLUMNS, pair, micrometer))) == 1
    assert not list(check_repeats("bag.csv", COLUMNS, pair, caliper))


def test_a_perfect_instrument_still_allows_a_hundredth():
    perfect = Instrument(0.0, 0.0)
    assert not list(check_repeats("bag.csv", COLUMNS, [row(2, 1.05), row(3, 1.059)], perfect))


@pytest.mark.parametrize("field", ["edge", "lot"])
def test_edge_and_lot_must_agree(field):
    pair = [row(2, 1.05), row(7, 1.05, **{field: "other"})]
    (problem,) = check_repeats("bag.csv", COLUMNS, pair, Instrument())
    assert str(problem.where) == "bag.csv line 7, disc A"
    assert "line 2" in problem.what


def test_how_far_repeats_differ_is_pooled_over_the_discs():
    """Sums of squares about each mean by hand: 2 x 0.001^2 and 2 x 0.002^2."""
    rows = [row(2, 1.05), row(3, 1.052), row(4, 1.0, name="B"), row(5, 1.004, name="B")]
    seen = differing(grouped([*rows, row(6, 1.1, name="C")]), "thickness")
    assert seen.square_mm2 == pytest.approx(1e-5)
    assert seen.degrees == 2


def test_values_that_were_copied_into_the_second_row_are_no_second_measurement():
    rows = [row(2, 1.05), row(3, 1.052), row(4, 1.0, name="B"), row(5, 1.004, name="B")]
    assert differing(grouped(rows), "thickness").degrees == 2
    assert differing(grouped(rows), "cone_height") == Repeats()


@pytest.mark.parametrize(("sd_mm", "warned"), [(0.01, 0), (0.035, 1), (0.002, 1)])
def test_repeats_unlike_what_is_declared_are_told(sd_mm, warned):
    caliper = Instrument(thickness_sd_mm=0.01, height_sd_mm=0.01)
    said = repeats_odd("bag.csv", (Repeats(12 * sd_mm**2, 12), Repeats()), caliper, "mm")
    assert len(said) == warned
    assert all(f"{sd_mm:.3f} mm" in one and "thickness_sd_mm" in one for one in said)
