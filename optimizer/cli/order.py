"""`evenstack order`: which springs to buy, and how many packs."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from optimizer.cli.options import Bore, Catalog, Json, Room, Seed, Why
from optimizer.orders.manufacture import RANGES


def _within(assumed: str, words: str) -> Any:
    """Return the option of what is assumed, with its range."""
    low, high = RANGES[assumed]
    return typer.Option(help=words, min=low, max=high)


def order(
    jobs: Annotated[list[Path], typer.Argument(help="The job file; more jobs share one order.")],
    sets: Annotated[
        list[int] | None,
        typer.Option(help="Sets to build; repeat it to give each job its own.", min=1, max=1000),
    ] = None,
    catalog: Catalog = None,
    confidence: Annotated[
        float | None,
        typer.Option(
            help="Share of deliveries in which all sets end truly matched and on target; 0.95 if "
            "not given."
        ),
    ] = None,
    bore: Bore = None,
    room: Room = None,
    flat: Annotated[
        float | None, _within("flat_mm", "Width of the flats you will dress; sharp if none.")
    ] = None,
    received: Annotated[
        Path | None, typer.Option(help="The bag that was delivered: what it builds, what lacks.")
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option(help="With --received: the order.json to compare it with; tells the sets."),
    ] = None,
    rounds: Annotated[
        int,
        typer.Option(
            help="Rounds of gauge and swap you will give every set; 0 builds it and no more.",
            min=0,
            max=8,
        ),
    ] = 3,
    groups: Annotated[
        int,
        typer.Option(
            help="Gauge groups of so many discs instead, which then stay together; 0 for none.",
            min=0,
            max=12,
        ),
    ] = 0,
    budget: Annotated[
        float | None, typer.Option(help="What the order may cost at most.", min=0.0)
    ] = None,
    need_by: Annotated[
        datetime | None,
        typer.Option(help="Day by which the springs must be there.", formats=["%Y-%m-%d"]),
    ] = None,
    spares: Annotated[
        int, typer.Option(help="Discs that must be left over.", min=0, max=10_000)
    ] = 0,
    same_lot: Annotated[
        bool,
        typer.Option(
            "--same-lot",
            help="With --received: the rest is bought of the lot received, which it tells of.",
        ),
    ] = False,
    limits_at_sd: Annotated[
        float | None, _within("limits_at_sd", "Assumed: limits at so many sds of a disc; 3.")
    ] = None,
    lot_share: Annotated[
        float | None, _within("lot_share", "Assumed: sd of a lot's mean over that of a disc; 0.5.")
    ] = None,
    modulus_sd: Annotated[
        float | None, _within("modulus_sd", "Assumed: sd of a lot's modulus; 0.015 is 1.5 %.")
    ] = None,
    disc_stiffness_sd: Annotated[
        float | None,
        _within(
            "disc_stiffness_sd",
            "Assumed: sd of a disc's stiffness within its lot; as in the job, or 0.01 (1 %).",
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
    why: Why = False,
    json: Json = False,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for order.json, order.txt and order.html; made if missing."),
    ] = None,
) -> None:
    """Plan what to buy so that every set ends truly matched and on target, cheapest first.

    Lengths given as options are in the units of the first job. What is assumed is, where not
    given, as in the earlier order (--plan) or as usual.
    """
    from optimizer.cli.output import progress, say, warn
    from optimizer.face.ordering import FILES, answer
    from optimizer.io.files import check_new
    from optimizer.orders.clutch import BenchWork
    from optimizer.orders.request import Request

    if out is not None:
        check_new(out / name for name in FILES)
    said = {
        "limits_at_sd": limits_at_sd, "lot_share": lot_share, "modulus_sd": modulus_sd,
        "disc_stiffness_sd": disc_stiffness_sd, "flat_mm": flat,
    }  # fmt: skip
    request = Request(
        tuple(jobs), tuple(sets or ()), catalog, bore, room, received, plan, confidence,
        {name: value for name, value in said.items() if value is not None},
        BenchWork(rounds, groups), budget, spares, None if need_by is None else need_by.date(),
        same_lot,
    )  # fmt: skip
    try:
        with progress("order") as report:
            found = answer(request, draws, seed, workers, report, cluster)
    except KeyboardInterrupt as stop:
        warn(str(stop) or "Stopped; nothing was written.")
        raise typer.Exit(130) from None
    if out is not None:
        warn(f"Wrote {', '.join(map(str, found.save(out)))}.")
    say(found.document() if json else found.text(why))
