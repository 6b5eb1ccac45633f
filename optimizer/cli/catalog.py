"""`evenstack catalog`: the sizes that can be bought."""

from __future__ import annotations

from typing import Annotated

import typer

from optimizer.cli.options import Bore, Catalog, Json, Room


def catalog(
    catalog: Catalog = None,
    bore: Bore = None,
    room: Room = None,
    units: Annotated[str, typer.Option(help="mm or in, for what is asked and shown.")] = "mm",
    json: Json = False,
) -> None:
    """List the sizes of a catalog that fit, with the load of one disc at 0.75 of its cone."""
    from optimizer.cli.output import say, warn
    from optimizer.cli.table import show_blocks
    from optimizer.errors import CannotBuildError, InputError
    from optimizer.orders.catalog import fitting
    from optimizer.orders.catalog_reader import read_catalog
    from optimizer.report.catalog_card import catalog_blocks, catalog_json, size_rows
    from optimizer.units import TO_INSIDE

    if units not in ("mm", "in"):
        raise InputError(f"Expected mm or in, got {units}.", "--units", "Write --units mm.")
    factor = TO_INSIDE[units]
    read = read_catalog(catalog)
    for warning in read.warnings:
        warn(warning)
    sizes = fitting(
        read.sizes, None if bore is None else bore * factor, None if room is None else room * factor
    )
    if not sizes:
        raise CannotBuildError(
            f"No size of {read.path.name} goes over this guide and into this room with the "
            "play of EN 16983.",
            "--bore, --room",
            "Try a thinner guide, a wider room or another catalog.",
        )
    listed = read.path.name, units, size_rows(sizes)
    if json:
        say(catalog_json(*listed))
    else:
        show_blocks(catalog_blocks(*listed))
