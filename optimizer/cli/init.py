"""`evenstack init`: a job folder to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer


def init(
    directory: Annotated[Path, typer.Argument(help="The folder to write; made if missing.")],
    units: Annotated[Literal["mm", "in"], typer.Option(help="mm and N, or inches and lbf.")] = "mm",
) -> list[Path]:
    """Write a job folder with commented templates and an invented bag to replace.

    Returns the files written; when any of them is already there, none is.
    """
    from optimizer.cli.output import say
    from optimizer.io.files import write_all_new
    from optimizer.io.job.templates import bag_template, job_template, readings_template

    contents: dict[Path, str | bytes] = {
        directory / "job.toml": job_template(units),
        directory / "bag.csv": bag_template(units),
        directory / "readings.csv": readings_template(units),
    }
    write_all_new(contents)
    say(
        f"Wrote {', '.join(path.name for path in contents)} in {directory}.\n"
        "Next: put your measured discs into bag.csv, your clutch into job.toml, then run\n"
        f"  evenstack match {directory / 'job.toml'}"
    )
    return list(contents)
