"""The columns of a bag."""

from __future__ import annotations

from collections.abc import Mapping

from optimizer.io.columns import FORCE, LENGTH, Column, Field, Schema
from optimizer.model.job import Units

_DIAMETER = "Add the column, or set [disc] {0}_mm or {0}_in in the job."

#: symbols of EN 16984 (De, Di, t, l0, h0) and words of the trade, the words common practice, no
#: source; `h` and `height` are said of the cone and of the whole, `io/bag/guess.py` tells which
BAG = Schema(
    "a bag",
    (
        Field(
            "disc",
            needed=True,
            guessed=("no", "nr", "#", "name", "label", "mark", "piece", "spring", "washer"),
        ),
        Field("thickness", LENGTH, needed=True, guessed=("t", "thick", "thk")),
        Field("edge", needed=True, guessed=("edges", "corner", "corners")),
        Field(
            "od",
            LENGTH,
            needed=True,
            remedy=_DIAMETER.format("od"),
            guessed=("de", "o_d", "outside", "outer", "outside_diameter", "outer_diameter"),
        ),
        Field(
            "id",
            LENGTH,
            needed=True,
            remedy=_DIAMETER.format("id"),
            guessed=("di", "i_d", "inside", "inner", "inside_diameter", "inner_diameter", "bore"),
        ),
        Field("cone_height", LENGTH, guessed=("h0", "ho", "h", "cone", "rise", "dish")),
        Field("height", LENGTH, guessed=("l0", "lo", "overall", "free", "overall_height", "total")),
        Field("flat", LENGTH, guessed=("flat_width", "land")),
        Field("edge_radius", LENGTH, guessed=("radius", "corner_radius")),
        Field("load", FORCE),
        Field("at", LENGTH),
        Field("lot", guessed=("batch", "source", "supplier")),
        Field("keep_with", guessed=("set", "belongs_to", "customer")),
        Field("note", guessed=("notes", "remark", "remarks", "comment", "comments")),
    ),
    one_height=True,
)
#: a load of the disc alone and how far it was pressed for it
PRESSED = ("load", "at")
#: what a row with a load, or of a job with nominal lengths, may leave empty
UNMEASURED = ("thickness", "cone_height", "height")
#: quantities in the order in which their slips are told
LENGTHS = ("od", "id", "thickness", "cone_height", "height", "flat", "edge_radius")


def unit_of(columns: Mapping[str, Column], otherwise: Units) -> Units:
    """Return the unit in which the lengths of a bag are written: that of the thickness, if any."""
    known = (columns[name] for name in ("thickness", "at", "od") if name in columns)
    return next((column.unit for column in known), otherwise)
