"""Where text goes: answers to standard output, everything else to standard error."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

from optimizer.control import Report, quiet

#: a decision: a word in capitals, and the paragraph that goes on with it
DECISION = re.compile(
    r"(?P<word>ENOUGH|NOT ENOUGH|STOP|LEAVE|READ AGAIN|READ|SWAP|REBUILD|BUILD|BUY)\b"
    r"(?P<rest>[^\n]*(?:\n +[^\n]+)*)"
)
#: colours of the words that end the work, and of those that go on with it
ENDS, GOES_ON = 32, 33
#: seconds of work after which a progress line appears
PATIENCE = 1.0


def say(text: str) -> None:
    """Print an answer; on a terminal the decision that it begins with is bold."""
    if sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb":
        text = emphasised(text)
    sys.stdout.write(text if text.endswith("\n") else text + "\n")
    sys.stdout.flush()  # a page is opened at an address that another program reads


def emphasised(text: str) -> str:
    """Make the decision at the head of an answer bold, and its word coloured.

    The word says it as well: nothing is lost where there is no bold type and no colour.
    """
    found = DECISION.match(text)
    if found is None:
        return text
    colour = ENDS if found["word"] in ("STOP", "LEAVE", "ENOUGH") else GOES_ON
    bold = f"\x1b[1;{colour}m{found['word']}\x1b[0;1m{found['rest']}\x1b[0m"
    return bold + text[found.end() :]


def warn(text: str) -> None:
    """Print a remark beside the answer."""
    sys.stderr.write(text + "\n")


def check_plot(path: Path | None) -> None:
    """Refuse a picture that could not be written, before work is put into it."""
    if path is not None:
        from optimizer.io.files import check_new
        from optimizer.report.pictures import check_suffix

        check_suffix(path)
        check_new([path])


def write_plot(path: Path, drawn: bytes) -> None:
    """Write a picture to a new file and say so."""
    from optimizer.io.files import write_all_new

    write_all_new({path: drawn})
    warn(f"Wrote {path}.")


@contextmanager
def progress(what: str) -> Iterator[Report]:
    """Show a bar on the terminal once the work has taken a second; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield quiet
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    bar = Progress(*columns, console=Console(stderr=True), transient=True, auto_refresh=True)
    started = monotonic()
    shown = bar.add_task(what, total=1.0)

    def report(stage: str, share: float) -> None:
        if not bar.live.is_started and monotonic() - started > PATIENCE:
            bar.start()
        bar.update(shown, description=f"{what}: {stage}", completed=share)

    try:
        yield report
    finally:
        bar.stop()
