import numpy as np

from tests.io.bag.bags import HEADER, bag_of, complaints

THICKNESSES = (1.050, 1.053, 1.047, 1.051, 1.049, 1.052, 1.048, 1.050)


def lot(thicknesses=THICKNESSES, cone_height=0.42, name="A", lot="L1"):
    return [f"{name}{n},20,10.2,{t},{cone_height},sharp,,{lot}," for n, t in enumerate(thicknesses)]


def test_a_thickness_far_from_its_lot_is_named(tmp_path):
    bag = bag_of(tmp_path, *lot((*THICKNESSES, 1.075)))
    assert len(bag.warnings) == 1
    assert bag.warnings[0].startswith("bag.csv line 10, disc A8: thickness 1.075 mm")
    assert "lot L1 (median 1.050 mm)" in bag.warnings[0]


def test_a_cone_height_far_from_its_lot_is_named(tmp_path):
    bag = bag_of(tmp_path, *lot(), *lot((1.05,), cone_height=0.46, name="B"))
    assert len(bag.warnings) == 1
    assert "disc B0: cone height 0.460 mm" in bag.warnings[0]


def test_a_tight_lot_does_not_cry_wolf(tmp_path):
    assert bag_of(tmp_path, *lot((1.05,) * 9 + (1.056,))).warnings == ()


def test_lots_are_judged_apart(tmp_path):
    other = lot([t + 0.1 for t in THICKNESSES], name="B", lot="L2")
    assert bag_of(tmp_path, *lot(), *other).warnings == ()


def test_a_mixture_without_lots_is_not_a_lot(tmp_path):
    mixed = [*lot(lot=""), *lot([t - 0.2 for t in THICKNESSES[:4]], name="B", lot="")]
    assert bag_of(tmp_path, *mixed).warnings == ()


def test_a_steep_cone_is_warned_about(tmp_path):
    bag = bag_of(tmp_path, *lot((0.3,), cone_height=0.43))  # h/t 1.433 > sqrt 2
    assert len(bag.warnings) == 1
    assert "1.43" in bag.warnings[0]


def test_names_that_differ_in_capitals_only_are_warned_about(tmp_path):
    bag = bag_of(tmp_path, *lot((1.05,)), *lot((1.051,), name="a"))
    assert len(bag.warnings) == 1
    assert "differs from A0 on line 2" in bag.warnings[0]


def test_assumed_flats_are_counted_once_with_their_width(tmp_path):
    rows = [row.replace("sharp", "dressed") for row in lot()]
    bag = bag_of(tmp_path, *rows)
    assert all(disc.flat_assumed for disc in bag.discs)
    assert len(bag.warnings) == 1
    assert "8 dressed discs have no measured flat; 0.150 mm is assumed" in bag.warnings[0]


def test_what_lies_far_out_by_chance_alone_is_counted_and_not_named(tmp_path):
    """Of 2,000 normal discs 5.4 are expected beyond 3 sd (0.27 %, tables of the normal)."""
    rng = np.random.default_rng(4)
    plain = lot([f"{t:.4f}" for t in rng.normal(1.05, 0.01, 2000)])
    bag = bag_of(tmp_path, *plain)
    assert len(bag.warnings) == 1
    assert "of 2000 discs are more than 3 sd from lot L1 in thickness" in bag.warnings[0]
    assert "about 5.4 are so by chance alone" in bag.warnings[0]
    far = bag_of(tmp_path, *plain, *lot((1.12,), name="far"))
    named = [line for line in far.warnings if "disc far0" in line]
    assert len(named) == 1
    assert len(far.warnings) == 2


def test_a_row_in_doubt_is_named_in_the_unit_of_the_file(tmp_path):
    """In a job of mm too: what is said is looked for in the file."""
    head = HEADER.replace("_mm", "_in")
    rows = [f"A{k:02d},0.787,0.402,0.0354,0.0187,sharp,,," for k in range(1, 9)]
    bag = bag_of(tmp_path, *rows, "A09,0.787,0.402,0.0381,0.0187,sharp,,,", header=head)
    (said,) = (line for line in bag.warnings if "A09" in line)
    assert "thickness 0.0381 in is" in said
    assert "median 0.0354 in" in said
    (said,) = complaints(tmp_path, "A01,0.787,0.402,0.0354,0.0187,sharp,0.01,,", header=head)
    assert "got 0.01 in." in said
