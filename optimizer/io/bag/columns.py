"""The columns of a bag."""

from __future__ import annotations

from optimizer.io.columns import LENGTH, Field, Schema

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
        Field("lot"),
        Field("note"),
    ),
    one_height=True,
)
#: quantities in the order in which their slips are told
LENGTHS = ("od", "id", "thickness", "cone_height", "height", "flat", "edge_radius")
