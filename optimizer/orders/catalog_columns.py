"""The columns of a catalog."""

from __future__ import annotations

from optimizer.io.columns import LENGTH, Field, Schema

WORDS = ("standard", "series", "material", "supplier", "currency", "note", "provenance")
#: whole numbers of packs: the price holds from so many on, and so many there are
COUNTS = ("pack", "from_packs", "stock_packs")
#: what is the same for all rows of a supplier
OF_SUPPLIER = ("delivery_cost", "minimum_order")
#: deviations from nominal; where a catalog gives none its standard's hold
DEVIATIONS = tuple(
    f"{what}_{end}" for what in ("od", "id", "thickness", "height") for end in ("lower", "upper")
)

CATALOG = Schema(
    "a catalog",
    (
        Field("size", needed=True),
        *(Field(name, LENGTH, needed=True) for name in ("od", "id", "thickness")),
        *(Field(name, LENGTH) for name in ("cone_height", "height", *DEVIATIONS)),
        *(Field(f"load_{end}_percent", factor=0.01) for end in ("lower", "upper")),
        *map(Field, ("modulus_mpa", "price", "lead_days", "load_at_0p75_n")),
        *map(Field, (*COUNTS, *OF_SUPPLIER, *WORDS)),
    ),
    one_height=True,
)
