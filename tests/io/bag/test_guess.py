"""Tables as others write them; all data is invented."""

import pytest

from optimizer.errors import InputError
from optimizer.io.bag.guess import guess
from optimizer.io.bag.layout import laid_out, plain, table_of_layout
from optimizer.io.table import possible_rows

DRAWER = """Springs from the drawer; May 2026

No;Thick;t2;h0 (mm);OD;ID;Edge;Notes
A1;0,905;;0,48;20;10,2;s;worn
A 2;0,90 mm;;0,47;20;10,2;Dressed;
No;Thick;t2;h0 (mm);OD;ID;Edge;Notes
A3;0,91;;0,46;20;10,2;sharp;
;;;;;;;end of the list
Total;2,715;;1,41;;;;
"""


def guessed(tmp_path, text, units="mm", earlier=None):
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    layout, _ = guess(possible_rows(path, "bag"), units, earlier or {})
    return layout


def headings(tmp_path, *heads, rows=(), **more):
    lines = ["\t".join(heads), *("\t".join(row) for row in rows)]
    return guessed(tmp_path, "\n".join(lines) + "\n", **more).headings


def test_a_title_notes_and_a_total_are_parted_from_the_discs(tmp_path):
    layout = guessed(tmp_path, DRAWER)
    assert layout.headings == (
        "disc", "thickness_mm", "", "cone_height_mm", "od_mm", "id_mm", "edge", "note",
    )  # fmt: skip
    assert [row.line for row in layout.rows] == [4, 5, 7]
    assert [(row.line, why) for row, why in layout.left] == [
        (1, "above the headings"),
        (6, "the headings again"),
        (8, "neither thickness nor height"),
        (9, "a total, or the like"),
    ]


def test_cells_become_what_a_bag_has(tmp_path):
    table = table_of_layout(guessed(tmp_path, DRAWER), {}, lambda: "never asked")
    assert table.header.cells[:3] == ("disc", "thickness_mm", "cone_height_mm")
    assert table.rows[1].line == 5
    assert table.rows[1].cells == ("A-2", "0,90", "0,47", "20", "10,2", "dressed", "")


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("t (mm)", "thickness_mm"),
        ("t [in]", "thickness_in"),
        ('Thick. "', "thickness_in"),
        ("Mean thickness", "thickness_mm"),
        ("Thicknes mm", "thickness_mm"),
        ("O.D.", "od_mm"),
        ("Outer dia (mm)", "od_mm"),
        ("De", "od_mm"),
        ("Bore", "id_mm"),
        ("h₀ / mm", "cone_height_mm"),
        ("Cone", "cone_height_mm"),
        ("l0 mm", "height_mm"),
        ("Free height", "height_mm"),
        ("Disc #", "disc"),
        ("Remarks", "note"),
        ("Batch", "lot"),
        ("Shelf", ""),
        ("", ""),
    ],
)
def test_a_heading_is_known_by_symbol_or_word(tmp_path, said, meant):
    """Symbols as in EN 16984: De, Di, t, l0, h0."""
    row = ("A1", "A1", "10") if meant in ("disc", "note", "lot") else ("A1", "10", "10")
    found = headings(tmp_path, "name" if meant != "disc" else "x", said, "edge radius", rows=[row])
    assert found[1] == meant


def test_the_values_tell_a_cone_from_an_overall_height(tmp_path):
    for height, meant in (("0.48", "cone_height_mm"), ("1.38", "height_mm")):
        rows = [("a", "0.9", height)] * 3
        assert headings(tmp_path, "disc", "thick", "h", rows=rows)[2] == meant
    both = headings(tmp_path, "disc", "t", "cone", "overall", rows=[("a", "0.9", "0.48", "1.38")])
    assert both == ("disc", "thickness_mm", "", "height_mm")


def test_the_unit_is_told_by_a_row_a_title_or_the_values(tmp_path):
    under = "disc,thick,OD\n,in,mm\nA1,0.0356,20\n"
    assert guessed(tmp_path, under).headings == ("disc", "thickness_in", "od_mm")
    assert [why for _, why in guessed(tmp_path, under).left] == ["units"]
    title = "all in inches\ndisc,thick\nA1,0.2\n"
    assert guessed(tmp_path, title).headings[1] == "thickness_in"
    inches = "disc,thick,OD\nA1,0.0356,0.787\n"
    assert guessed(tmp_path, inches).headings[1:] == ("thickness_in", "od_in")
    assert guessed(tmp_path, "disc,thick,OD\nA1,0.9,20\n", "in").headings[1] == "thickness_mm"
    assert guessed(tmp_path, "disc,thick\nA1,0.3\n", "in").headings[1] == "thickness_in"


def test_id_is_a_name_where_its_values_are_names(tmp_path):
    names = [(f"A{k}", "0.9", "20") for k in range(4)]
    assert headings(tmp_path, "ID", "thick", "OD", rows=names)[0] == "disc"
    numbers = [(str(k), "0.9", "20") for k in range(1, 5)]
    assert headings(tmp_path, "ID", "thick", "OD", rows=numbers)[0] == "disc"
    bores = [("10.2", "0.9", "20")] * 4
    assert headings(tmp_path, "ID", "thick", "OD", rows=bores)[0] == "id_mm"


def test_discs_without_names_get_some_and_lacks_are_filled_in(tmp_path):
    layout = guessed(tmp_path, "thick,cone\n0.9,0.48\n0.91,0.47\n")
    names = iter(("X1", "X2"))
    everywhere = {"edge": "sharp", "od_mm": "20", "id_mm": ""}
    table = table_of_layout(layout, everywhere, lambda: next(names))
    assert table.header.cells == ("disc", "thickness_mm", "cone_height_mm", "edge", "od_mm")
    assert table.rows[1].cells == ("X2", "0.91", "0.47", "sharp", "20")


def test_what_was_agreed_before_goes_before_a_guess(tmp_path):
    text = "Piece,A,B\nx1,0.9,1.38\nx2,0.9,1.39\n"
    assert guessed(tmp_path, text).headings == ("disc", "", "")
    earlier = {plain("A"): "thickness_mm", plain("B"): "height_mm", plain("Piece"): ""}
    assert guessed(tmp_path, text, earlier=earlier).headings == ("", "thickness_mm", "height_mm")
    worse = {plain("A"): "od_mm", plain("B"): "od_mm", plain("Piece"): "nonsense"}
    assert guessed(tmp_path, text, earlier=worse).headings == ("", "od_mm", "")


def test_a_row_that_a_person_keeps_is_a_disc(tmp_path):
    path = tmp_path / "table.csv"
    path.write_text("disc,thick\nMax,0.9\nA1,0.9\n")
    layout, rows = guess(possible_rows(path, "bag"), "mm", {})
    assert [row.line for row in layout.rows] == [3]
    kept = laid_out(rows, 1, layout.headings, frozenset({2}))
    assert [row.line for row in kept.rows] == [2, 3]
    assert kept.left == ()


def test_headings_that_nobody_knows_are_left_to_the_person(tmp_path):
    layout = guessed(tmp_path, "Aus der Kiste\n\nStück;Dicke;Höhe\nA;0,9;1,38\nB;0,9;1,39\n")
    assert layout.header.cells == ("Stück", "Dicke", "Höhe")
    assert layout.headings == ("", "", "")
    assert len(layout.rows) == 2


@pytest.mark.parametrize("text", ["1,2,3\n4,5,6\n", "no table at all\n", "disc\nA\n"])
def test_what_has_no_headings_is_told(tmp_path, text):
    with pytest.raises(InputError, match="Expected a row of headings"):
        guessed(tmp_path, text)
