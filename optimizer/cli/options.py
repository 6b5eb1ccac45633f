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
TimeLimit = Annotated[
    float | None,
    typer.Option(
        help="Stop after so many seconds with the best so far; no limit if none.", min=0.1
    ),
]
Seed = Annotated[int, typer.Option(help="Same seed, same answer.", min=0)]
