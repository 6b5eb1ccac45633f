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

    A script beside them opens the bench page of the folder by a double click. Where any of them
    is already there nothing is written.
    """
    from optimizer.cli.output import say
    from optimizer.io.files import write_all_new
    from optimizer.io.job.templates import bag_template, job_template, readings_template
    from optimizer.io.launcher import launcher

    name, script = launcher()
    contents: dict[Path, str | bytes] = {
        directory / "job.toml": job_template(units),
        directory / "bag.csv": bag_template(units),
        directory / "readings.csv": readings_template(units),
        directory / name: script,
    }
    write_all_new(contents)
    say(
        f"Wrote {', '.join(path.name for path in contents)} in {directory}.\n"
        "Next: put your measured discs into bag.csv, your clutch into job.toml, then run\n"
        f"  evenstack match {directory / 'job.toml'}\n"
        f"or do all of it on a page: evenstack open {directory}, or double-click {name} there."
    )
    return list(contents)
