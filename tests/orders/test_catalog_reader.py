import re

import pytest

from optimizer.errors import CannotBuildError, InputError
from optimizer.model.catalog import Band, Offer, Supplier
from optimizer.orders.catalog import fitting, in_time, printed_load_n
from optimizer.orders.catalog_reader import read_catalog
from optimizer.orders.limits import band, guide_clearance_mm
from tests.orders.cases import size, supplier

HEAD = "size,standard,od_mm,id_mm,thickness_mm,cone_height_mm,pack,price,currency\n"


def catalog(tmp_path, text):
    path = tmp_path / "catalog.csv"
    path.write_text(text)
    return read_catalog(path)


def test_without_a_file_the_standard_sizes_are_read():
    read = read_catalog()
    assert len(read.sizes) == 57
    assert all(not s.priced and s.standard == "EN 16983" for s in read.sizes)


def test_loads_agree_with_those_printed_by_the_standard():
    # EN 16983:2016, from memory: A 20x10.2x1.1 carries 1530 N at 0.75 h, within 2 %
    read = read_catalog()
    at = [s.name for s in read.sizes].index("A 20x10.2x1.1")
    assert printed_load_n(read.sizes)[at] == pytest.approx(1530, rel=0.02)


@pytest.mark.parametrize(
    ("quantity", "of_mm", "expected"),
    [
        # EN 16983:2016 tolerances as spring makers print them
        ("thickness", 1.0, Band(-0.09, 0.03)),
        ("thickness", 0.2, Band(-0.06, 0.02)),
        ("thickness", 0.6, Band(-0.06, 0.02)),
        ("thickness", 1.25, Band(-0.12, 0.04)),  # group 2 begins here (memory)
        ("overall_height", 1.25, Band(-0.08, 0.15)),
        ("load_at_0p75", 1.0, Band(-0.075, 0.25)),
        ("od", 18.0, Band(-0.18, 0.0)),
        ("thickness", 99.0, None),
    ],
)
def test_the_band_of_a_border_is_the_right_one(quantity, of_mm, expected):
    assert band("EN 16983", quantity, of_mm) == expected


def test_own_limits_come_before_those_of_the_standard():
    close = size("V20-090 close").limits
    assert close.thickness == Band(-0.015, 0.015)
    assert close.height == Band(-0.03, 0.03)
    assert size("V20-090").limits.thickness == Band(-0.09, 0.03)


def test_a_catalog_in_inches_holds_the_same_discs(tmp_path):
    read = catalog(
        tmp_path,
        "size,standard,od_in,id_in,thickness_in,height_in,thickness_lower_in\n"
        "one,EN 16983,0.787402,0.401575,0.0354331,0.0531496,-0.001\n",
    )
    (one,) = read.sizes
    assert one.thickness_mm == pytest.approx(0.9, abs=1e-4)
    assert one.cone_height_mm == pytest.approx(0.45, abs=1e-4)
    assert one.limits.thickness.lower == pytest.approx(-0.0254)


def test_every_problem_is_told_at_once(tmp_path):
    with pytest.raises(InputError) as caught:
        catalog(
            tmp_path,
            HEAD + "a,EN 16983,20,10.2,0,0.45,50,19,EUR\n"
            "b,EN 16983,20,30,0.9,0.45,50,19,EUR\n"
            "c,none,20,10.2,0.9,0.45,50,19,EUR\n"
            "d,EN 16983,20,10.2,0.9,wide,0.5,-3,EUR\n"
            "e,EN 16983,20,10.2,0.9,0.45,50,19,EUR\n"
            "e,EN 16983,20,10.2,0.9,0.45,50,19,USD\n"
            "f,EN 16983,20,10.2,0.9,0.45,50,19,EUR\n"
            "f,EN 16983,20,10.2,1.1,0.45,50,19,EUR\n",
        )
    said = str(caught.value)
    assert "line 2, size a: Expected thickness_mm > 0, got 0" in said
    assert "line 3, size b: Expected id < od" in said
    assert "tolerances of the thickness, found none for standard 'none'" in said
    assert "size d: Expected a number for cone_height_mm, got 'wide'" in said
    assert "Expected a whole number for pack, got 0.5" in said
    assert "Expected price >= 0, got -3" in said
    assert "Expected each offer once, got 'e' on line 6 too" in said
    assert "line 9, size f: Expected the disc that 'f' is on line 8, got another one" in said


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("size,od_mm,id_mm,cone_height_mm", "Expected a column thickness_mm or thickness_in"),
        ("size,od_mm,id_mm,thickness_mm", "either cone_height"),
        ("size,od,id_mm,thickness_mm,cone_height_mm", "Write the unit: od_mm or od_in"),
        ("size,od_mm,id_mm,thicknes_mm,cone_height_mm", "Did you mean thickness_mm"),
    ],
)
def test_a_header_that_lacks_something_is_refused(tmp_path, header, said):
    with pytest.raises(InputError, match=said):
        catalog(tmp_path, header + "\n" + ",".join("1" * len(header.split(","))) + "\n")


def test_a_mixed_currency_is_refused(tmp_path):
    row = "EN 16983,20,10.2,0.9,0.45,50,19"
    with pytest.raises(InputError, match="Expected one currency, got EUR, USD"):
        catalog(tmp_path, f"{HEAD}a,{row},EUR\nb,{row},USD\n")


@pytest.mark.parametrize(
    ("head", "row", "says"),
    [
        (HEAD, ",EN 16983,20,10.2,0.9,0.45,,,", "line 2: Expected a name for the size"),
        (
            HEAD.replace("cone_height", "height"),
            "a,EN 16983,20,10.2,0.9,0.9,,,",
            "line 2, size a: Expected an overall height above the thickness",
        ),
        (
            HEAD.replace("currency", "thickness_lower_mm,thickness_upper_mm"),
            "a,EN 16983,20,10.2,0.9,0.45,,,0.03,-0.05",
            "Expected thickness lower <= upper, got 0.03 and -0.05",
        ),
    ],
)
def test_a_size_that_cannot_be_is_told_with_its_line(tmp_path, head, row, says):
    with pytest.raises(InputError, match=re.escape(says)):
        catalog(tmp_path, f"{head}{row}\n")


def test_the_supplier_says_it_is_invented():
    assert all("invented" in s.note for s in supplier().sizes)
    assert supplier().path.read_text().startswith("# INVENTED")


def test_a_size_fits_with_play_at_its_worst_limit():
    sizes = (size("V20-090"),)  # od 20 h12, id 10.2 H12, play 0.2 inside and 0.3 outside
    assert guide_clearance_mm(10.2) == 0.2
    assert guide_clearance_mm(300.0) == guide_clearance_mm(140.0) == 1.0  # beyond the table
    assert fitting(sizes, bore_mm=10.0, room_mm=20.3) == sizes
    assert fitting(sizes, bore_mm=10.01) == ()
    assert fitting(sizes, room_mm=20.29) == ()


def test_remarks_above_the_header_keep_the_line_numbers_of_the_file(tmp_path):
    with pytest.raises(InputError, match=r"catalog\.csv line 4, size a"):
        catalog(tmp_path, "# one\n# two, with a comma\n" + HEAD + "a,EN 16983,20,10.2,x,0.45,,,\n")


def test_rows_of_one_disc_are_ways_to_buy_it(tmp_path):
    head = "size,supplier,standard,od_mm,id_mm,thickness_mm,cone_height_mm,pack,price,from_packs,"
    read = catalog(
        tmp_path,
        head + "stock_packs,delivery_cost,minimum_order,currency\n"
        "a,one,EN 16983,20,10.2,0.9,0.45,50,19,,,5,,EUR\n"
        "a,one,EN 16983,20,10.2,0.9,0.45,50,17,4,,5,,EUR\n"
        "small bag,one,EN 16983,20,10.2,0.9,0.45,10,5,,3,5,,EUR\n"
        "a,two,EN 16983,20,10.2,0.9,0.45,25,9,,,,40,EUR\n"
        "b,two,EN 16983,20,10.2,1.1,0.45,25,9,,,,40,EUR\n",
    )
    one, other = read.sizes
    assert (one.name, one.step, one.each) == ("a", 5, 0.34)
    assert [(o.pack, o.price, o.from_packs, o.stock_packs) for o in one.offers] == [
        (50, 19.0, 1, None), (50, 17.0, 4, None), (10, 5.0, 1, 3), (25, 9.0, 1, None),
    ]  # fmt: skip
    assert {o.supplier for o in one.offers} == {Supplier("one", 5.0), Supplier("two", 0.0, 40.0)}
    assert other.offers[0].supplier == Supplier("two", 0.0, 40.0)


def test_a_supplier_delivers_at_one_cost(tmp_path):
    with pytest.raises(InputError, match="Expected delivery_cost and minimum_order as on line 2"):
        catalog(
            tmp_path,
            HEAD.replace("currency", "currency,delivery_cost")
            + "a,EN 16983,20,10.2,0.9,0.45,50,19,EUR,5\n"
            "b,EN 16983,20,10.2,1.1,0.45,50,19,EUR,6\n",
        )


def test_only_what_comes_in_time_is_bought():
    found, remarks = in_time(supplier().sizes, 3)
    assert [(s.name, [o.lead_days for o in s.offers]) for s in found] == [("V18-100", [3.0, 2.0])]
    assert remarks == []
    with pytest.raises(CannotBuildError, match="within 1 days; the soonest takes 2"):
        in_time(supplier().sizes, 1)
    unsaid = size("V20-110", offers=(Offer("V20-110", 10),))
    assert "1 offers say no lead_days" in in_time((unsaid,), 1)[1][0]
