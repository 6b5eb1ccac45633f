"""The command line: joins the commands and turns errors into one message and exit code 2."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict

import typer

from optimizer import __version__
from optimizer.cli.bench import bench
from optimizer.cli.catalog import catalog
from optimizer.cli.engage import engage
from optimizer.cli.init import init
from optimizer.cli.inspect import inspect
from optimizer.cli.load import load
from optimizer.cli.match import match
from optimizer.cli.order import order
from optimizer.cli.retarget import retarget
from optimizer.errors import EvenstackError

HELP = """Sort measured disc springs into stacks that push alike.

A compressed stack stores energy and a clutch spins: use a guided fixture and eye
protection, keep clear of dust and of anything that turns, and put the limits of the clutch
and engine maker, the race rules and licensed practice before anything this tool says.
"""

app = typer.Typer(
    help=HELP,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for command in (
    init,
    inspect,
    load,
    match,
    bench,
    engage,
    retarget,
    catalog,
    order,
):
    app.command()(command)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"evenstack {__version__}")
        raise typer.Exit


@app.callback(help=HELP)
def root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Show the version."
    ),
) -> None:
    """Take the options that go before any command."""


def _refusal(error: EvenstackError) -> str:
    """One JSON document that says why there is no answer."""
    problems = [asdict(problem) for problem in error.problems]
    return json.dumps({"schema": "evenstack.refusal/1", "problems": problems}, indent=1)


def main() -> None:
    """Run the command line; nothing a user does ends in a traceback."""
    try:
        app()
    except EvenstackError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        if "--json" in sys.argv:
            print(_refusal(error))
        sys.exit(2)
    except KeyboardInterrupt:
        print("Stopped; nothing was written.", file=sys.stderr)
        sys.exit(130)
    except BrokenPipeError:
        sys.exit(0)


if __name__ == "__main__":
    main()
