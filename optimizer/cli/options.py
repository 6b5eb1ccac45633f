"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

JobFile = Annotated[Path, typer.Argument(help="The job file (TOML).")]
Fresh = Annotated[
    bool, typer.Option("--fresh", help="Go by the measurements alone, not by the bench.")
]
Json = Annotated[bool, typer.Option("--json", help="One JSON document to stdout.")]
Plot = Annotated[Path | None, typer.Option(help="Draw a picture to this file, .svg or .png.")]
Why = Annotated[bool, typer.Option("--why", help="Show also what the answer rests on.")]
Catalog = Annotated[
    Path | None, typer.Option(help="Catalog (CSV or XLSX); the sizes of EN 16983 if none.")
]
Bore = Annotated[
    float | None, typer.Option(help="Diameter of the guide through the discs.", min=0.0)
]
Room = Annotated[float | None, typer.Option(help="Diameter of the room around the discs.", min=0.0)]
RpmSeen = Annotated[
    float | None,
    typer.Option(
        help="Engagement speed seen with these stacks; kept with what the bench taught.",
        min=50,
        max=50_000,
    ),
]
RpmHold = Annotated[
    float | None,
    typer.Option(
        help="Engine speed at full throttle while the clutch slipped; teaches the friction.",
        min=50,
        max=50_000,
    ),
]
RpmSd = Annotated[
    float, typer.Option(help="How well these speeds were read (sd in rpm).", min=0, max=1000)
]
#: usual doubt in rpm of a tachometer watched while it moves (common practice, no source)
RPM_SD = 25.0
TimeLimit = Annotated[
    float | None,
    typer.Option(
        help="Stop after so many seconds with the best so far; no limit if none.", min=0.1
    ),
]
Seed = Annotated[int, typer.Option(help="Same seed, same answer.", min=0)]
