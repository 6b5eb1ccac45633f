"""`evenstack order`: which springs to buy, and how many packs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def order(
    jobs: Annotated[list[Path], typer.Argument(help="The job file; more jobs share one order.")],
    sets: Annotated[
        list[int], typer.Option(help="Sets to build; repeat it to give each job its own.", min=1)
    ],
    catalog: Annotated[
        Path | None, typer.Option(help="Catalog (CSV or XLSX); the sizes of EN 16983 if none.")
    ] = None,
    confidence: Annotated[
        float, typer.Option(help="Share of deliveries in which all sets can be built.")
    ] = 0.95,
    bore: Annotated[
        float | None, typer.Option(help="Diameter of the guide through the discs.", min=0.0)
    ] = None,
    room: Annotated[
        float | None, typer.Option(help="Diameter of the room around the discs.", min=0.0)
    ] = None,
    flat: Annotated[
        float, typer.Option(help="Width of the flats you will dress; 0 is sharp.", min=0.0)
    ] = 0.0,
    received: Annotated[
        Path | None, typer.Option(help="The bag that was delivered: what it builds, what lacks.")
    ] = None,
    limits_at_sd: Annotated[
        float, typer.Option(help="Assumed: limits at so many sds of a disc.", min=0.5)
    ] = 3.0,
    lot_share: Annotated[
        float, typer.Option(help="Assumed: sd of a lot's mean over that of a disc.", min=0.0)
    ] = 0.5,
    modulus_sd: Annotated[
        float, typer.Option(help="Assumed: relative sd of a lot's modulus.", min=0.0, max=0.2)
    ] = 0.015,
    draws: Annotated[int, typer.Option(help="Simulated deliveries.", min=20)] = 1000,
    seed: Annotated[int, typer.Option(help="Same seed, same answer.", min=0)] = 0,
    workers: Annotated[
        int | None, typer.Option(help="Processes; as many as there are cores if none.", min=1)
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler to send the draws to.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON document to stdout.")] = False,
    out: Annotated[
        Path | None, typer.Option(help="Folder for order.json and order.txt; made if missing.")
    ] = None,
) -> None:
    """Plan what to buy so that every set can be built, cheapest first.

    Lengths given as options are in the units of the first job.
    """
    from optimizer.commands.output import progress, say, warn
    from optimizer.files import write_all_new
    from optimizer.orders.card import order_card, received_card
    from optimizer.orders.deliver import Making
    from optimizer.orders.order import Wish
    from optimizer.orders.request import Request, after_delivery, ask, plan_request
    from optimizer.orders.simulate import on_cluster
    from optimizer.plan.store import to_json

    making = Making(limits_at_sd, lot_share, modulus_sd)
    request = Request(tuple(jobs), tuple(sets), catalog, bore, room, flat, received)
    wish = Wish(confidence, draws, seed, workers)
    asked = ask(request, making, wish)
    with progress("order") as report, on_cluster(cluster):
        if received is None:
            planned = plan_request(asked, report)
            document, text = to_json(planned), order_card(planned)
        else:
            found = after_delivery(asked, report)
            document, text = to_json(found), received_card(found, asked.units)
    if out is not None:
        write_all_new({out / "order.json": document, out / "order.txt": text})
        warn(f"Wrote {out / 'order.json'} and {out / 'order.txt'}.")
    say(document if json else text)
