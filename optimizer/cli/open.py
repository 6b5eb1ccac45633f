"""`evenstack open`: the bench page in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def open_page(
    folder: Annotated[
        Path, typer.Argument(help="A job folder, a job file, or a folder of job folders.")
    ] = Path(),
    phone: Annotated[
        bool, typer.Option("--phone", help="Let a phone in the same network in too, by its key.")
    ] = False,
    port: Annotated[
        int | None, typer.Option(help="Listen on this port.", min=1024, max=65535)
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address, open nothing.")
    ] = False,
) -> None:
    """Open the bench page: measure, match, build and read the gauge in the browser.

    It serves this machine alone and sends nothing anywhere. What is typed goes to the same files
    that the other commands read and write. End it with Ctrl-C.
    """
    from optimizer.cli.output import say, warn
    from optimizer.page.doors import qr_rows
    from optimizer.page.folder import Folder
    from optimizer.page.serve import listening, serve

    served = Folder.of(folder)
    doors, sockets = listening(port, phone)

    def ready() -> None:
        say(f"The bench page of {served.root}: {doors.here}")
        if doors.phone is not None:
            say(f"\nOn the phone, once: {doors.phone}\n\n{_blocks(qr_rows(doors.phone))}")
            say("The page shows the next key. Others in the network can see what is sent.")
        warn("Ctrl-C ends it; whatever was typed is in the files.")
        if not no_browser:
            import webbrowser

            webbrowser.open(doors.here)

    serve(served, doors, sockets, ready)


def _blocks(rows: list[list[bool]]) -> str:
    """Draw a code in characters, two rows a line, light on dark as on most terminals."""
    last = [False] * len(rows[0])
    pairs = zip(rows[::2], [*rows[1::2], *([last] if len(rows) % 2 else [])], strict=True)
    blocks = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return "\n".join("".join(blocks[pair] for pair in zip(*both, strict=True)) for both in pairs)
