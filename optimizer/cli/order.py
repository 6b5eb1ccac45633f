"""`evenstack order`: which springs to buy, and how many packs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Json, Seed


def order(
    jobs: Annotated[list[Path], typer.Argument(help="The job file; more jobs share one order.")],
    sets: Annotated[
        list[int] | None,
        typer.Option(help="Sets to build; repeat it to give each job its own.", min=1, max=1000),
    ] = None,
    catalog: Annotated[
        Path | None, typer.Option(help="Catalog (CSV or XLSX); the sizes of EN 16983 if none.")
    ] = None,
    confidence: Annotated[
        float | None,
        typer.Option(help="Share of deliveries in which all sets can be built; 0.95 if not given."),
    ] = None,
    bore: Annotated[
        float | None, typer.Option(help="Diameter of the guide through the discs.", min=0.0)
    ] = None,
    room: Annotated[
        float | None, typer.Option(help="Diameter of the room around the discs.", min=0.0)
    ] = None,
    flat: Annotated[
        float | None,
        typer.Option(help="Width of the flats you will dress; sharp if none.", min=0, max=20),
    ] = None,
    received: Annotated[
        Path | None, typer.Option(help="The bag that was delivered: what it builds, what lacks.")
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option(help="With --received: the order.json to compare it with; tells the sets."),
    ] = None,
    limits_at_sd: Annotated[
        float | None,
        typer.Option(help="Assumed: limits at so many sds of a disc; 3.", min=0.5, max=20),
    ] = None,
    lot_share: Annotated[
        float | None,
        typer.Option(help="Assumed: sd of a lot's mean over that of a disc; 0.5.", min=0.0, max=5),
    ] = None,
    modulus_sd: Annotated[
        float | None,
        typer.Option(help="Assumed: sd of a lot's modulus; 0.015 is 1.5 %.", min=0.0, max=0.2),
    ] = None,
    disc_stiffness_sd: Annotated[
        float | None,
        typer.Option(
            help="Assumed: sd of a disc's stiffness within its lot; as in the job, or 0.01 (1 %).",
            min=0.0,
            max=0.2,
        ),
    ] = None,
    draws: Annotated[int, typer.Option(help="Simulated deliveries.", min=20, max=1_000_000)] = 1000,
    seed: Seed = 0,
    workers: Annotated[
        int | None, typer.Option(help="Processes; as many as there are cores if none.", min=1)
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler to send the draws to.")
    ] = None,
    json: Json = False,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for order.json, order.txt and order.html; made if missing."),
    ] = None,
) -> None:
    """Plan what to buy so that every set can be built, cheapest first.

    Lengths given as options are in the units of the first job. What is assumed is, where not
    given, as in the earlier order (--plan) or as usual.
    """
    from datetime import date
    from functools import partial

    from optimizer import wrapping
    from optimizer.cli.output import progress, say, warn
    from optimizer.io.documents import to_json
    from optimizer.io.files import check_new, write_all_new
    from optimizer.orders.request import Assumed, Request, after_delivery, ask, plan_request
    from optimizer.orders.simulate import on_cluster
    from optimizer.report.order_card import order_card
    from optimizer.report.order_page import order_page
    from optimizer.report.received_card import received_card
    from optimizer.report.received_page import received_page

    names = ("order.json", "order.txt", "order.html")
    paths = [] if out is None else [out / name for name in names]
    check_new(paths)
    assumed = Assumed(limits_at_sd, lot_share, modulus_sd, disc_stiffness_sd, flat)
    request = Request(
        tuple(jobs), tuple(sets or ()), catalog, bore, room, received, plan, confidence, assumed
    )
    try:
        asked = ask(request, draws, seed, workers)
        with progress("order") as report, on_cluster(cluster):
            if received is None:
                planned = plan_request(asked, report)
                document = to_json(planned)
                card = partial(order_card, planned)
                page = partial(order_page, planned)
            else:
                found = after_delivery(asked, report)
                document = to_json(found)
                card = partial(received_card, found, asked.units)
                page = partial(received_page, found, asked.units)
    except KeyboardInterrupt as stop:
        warn(str(stop) or "Stopped; nothing was written.")
        raise typer.Exit(130) from None
    with wrapping.columns(wrapping.FULL):
        contents: list[str | bytes] = [document, card()]
    if paths:
        files = dict(zip(paths, [*contents, page(date.today())], strict=True))
        write_all_new(files)
        warn(f"Wrote {', '.join(map(str, files))}.")
    say(document if json else card())
