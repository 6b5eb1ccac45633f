"""A talk at the bench: how it begins, and what is said when it ends."""

from __future__ import annotations

from collections.abc import Callable
from signal import default_int_handler

import typer

from optimizer.bench.step import Step
from optimizer.cli.ask import Ended, Talk
from optimizer.cli.output import warn
from optimizer.cli.prompt_words import HELP
from optimizer.cli.taking import Taking
from optimizer.control import interrupts
from optimizer.io.readings_log import has_rows
from optimizer.wrapping import hung


def converse(taking: Taking, show: Callable[[Step], None], move: int | None) -> Step | None:
    """Ask round after round until the advice is to stop or no answer comes; return the last step.

    What the file holds from an earlier session is taken up where it ended: nothing is asked
    twice, and what was said last is said again. `move` takes another move than that said first.

    Raises
    ------
    typer.Exit
        with code 130 at Ctrl-C; what was typed is in the file by then.
    """
    warn(hung([HELP]).rstrip())
    talk = Talk(taking, show, move)
    try:
        with interrupts(default_int_handler):
            talk.run()
    except Ended:
        pass
    except KeyboardInterrupt:
        log = talk.session.log
        said = f"the readings are kept in {log}" if has_rows(log) else "no reading was typed"
        warn(f"\nStopped; {said}.")
        raise typer.Exit(130) from None
    read = talk.read()
    if read.rows:
        warn(f"The readings are kept in {talk.session.log}.")
        if read.rows != talk.advised:
            talk.advise(read.rows)
    return talk.done if read.rows else None
