"""The columns of a bag."""

from __future__ import annotations

from optimizer.io.columns import FORCE, LENGTH, Field, Schema

_DIAMETER = "Add the column, or set [disc] {0}_mm or {0}_in in the job."

BAG = Schema(
    "a bag",
    (
        Field("disc", needed=True),
        Field("thickness", LENGTH, needed=True),
        Field("edge", needed=True),
        Field("od", LENGTH, needed=True, remedy=_DIAMETER.format("od")),
        Field("id", LENGTH, needed=True, remedy=_DIAMETER.format("id")),
        Field("cone_height", LENGTH),
        Field("height", LENGTH),
        Field("flat", LENGTH),
        Field("edge_radius", LENGTH),
        Field("load", FORCE),
        Field("at", LENGTH),
        Field("lot"),
        Field("note"),
    ),
    one_height=True,
)
#: a load of the disc alone and how far it was pressed for it
PRESSED = ("load", "at")
#: what a row with a load, or of a job with nominal lengths, may leave empty
UNMEASURED = ("thickness", "cone_height", "height")
#: quantities in the order in which their slips are told
LENGTHS = ("od", "id", "thickness", "cone_height", "height", "flat", "edge_radius")
