"""The command line: joins the commands and turns errors into one message and exit code 2."""

from __future__ import annotations

import json
import os
import sys
import traceback
from dataclasses import asdict
from functools import cache
from io import TextIOWrapper
from pathlib import Path
from shutil import get_terminal_size
from typing import Any

import typer

from optimizer import __version__, wrapping
from optimizer.cli.bench import bench
from optimizer.cli.catalog import catalog
from optimizer.cli.engage import engage
from optimizer.cli.entry import STOPPED, stop
from optimizer.cli.init import init
from optimizer.cli.inspect import inspect
from optimizer.cli.load import load
from optimizer.cli.match import match
from optimizer.cli.open import open_page
from optimizer.cli.order import order
from optimizer.cli.retarget import retarget
from optimizer.cli.ways import ways
from optimizer.control import Interrupted, interrupts
from optimizer.errors import EvenstackError

#: said when the program itself is wrong
FAULT = "This is a fault of the program, not of your files"

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
for command in (init, inspect, load, match, ways, bench, engage, retarget, catalog, order):
    app.command()(command)
app.command("open")(open_page)


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


def main() -> None:
    """Run the command line; nothing a user does ends in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a name may hold what the terminal cannot show
            stream.reconfigure(errors="backslashreplace")
    wide = get_terminal_size().columns if sys.stdout and sys.stdout.isatty() else wrapping.FULL
    with interrupts(stop), wrapping.columns(wide):
        sys.exit(_run())


def _run() -> int:
    """Run the command; return the exit code."""
    if sys.stdout is None:
        return _fail("Expected a standard output to write the answer to, got a closed one.")
    try:
        code = _command()
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nobody reads on
        return 0
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _fail(f"The answer cannot be written ({error.strerror}).")


@cache
def _built() -> Any:
    """The commands with their options, put together once a process."""
    return typer.main.get_command(app)


def _command() -> int:
    try:
        _built()()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0
    except EvenstackError as error:
        for line in error.lines():
            print(line, file=sys.stderr)
        if "--json" in sys.argv:
            print(_refusal(error))
        return 2
    except (KeyboardInterrupt, Interrupted):
        print(STOPPED, file=sys.stderr)
        return 130
    except OSError:
        raise
    except UnicodeError as error:
        return _fail(f"A name holds characters that are no text ({error}).")
    except Exception as error:
        return _fault(error)
    return 0


def _refusal(error: EvenstackError) -> str:
    """One JSON document that says why there is no answer."""
    problems = [asdict(problem) for problem in error.shown()]
    left = len(error.told) - len(problems)
    document = {"schema": "evenstack.refusal/1", "problems": problems, "problems_left": left}
    return json.dumps(document, indent=1)


def _fail(words: str) -> int:
    print(words, file=sys.stderr)
    return 2


def _fault(error: Exception) -> int:
    """Say in one line that the program is at fault, and where."""
    at = traceback.extract_tb(error.__traceback__)[-1]
    what = f"{type(error).__name__} in {Path(at.filename).name} line {at.lineno}"
    print(f"{FAULT} ({what}). Nothing you wrote is lost; please report it.", file=sys.stderr)
    return 1


if __name__ == "__main__":
    main()
