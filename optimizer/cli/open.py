"""`evenstack open`: the bench page in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def open_page(
    folder: Annotated[
        Path | None,
        typer.Argument(help="A job folder, a job file, or a folder of job folders; asks if none."),
    ] = None,
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
    that the other commands read and write. Without a folder it opens the one where it is started,
    if that holds a clutch, and else asks which. End it with Ctrl-C.
    """
    from optimizer.cli.output import say, warn
    from optimizer.page.doors import qr_text
    from optimizer.page.folder import Folder
    from optimizer.page.serve import listening, serve

    served = Folder.of(_asked_for() if folder is None else folder)
    doors, sockets = listening(port, phone)

    def ready() -> None:
        say(f"The bench page of {served.root}: {doors.here}")
        if doors.phone is not None:
            say(f"\nOn the phone, once: {doors.phone}\n\n{qr_text(doors.phone)}")
            say("The page shows the next key. Others in the network can see what is sent.")
        warn("Ctrl-C ends it; whatever was typed is in the files.")
        if not no_browser:
            import webbrowser

            webbrowser.open(doors.here)

    serve(served, doors, sockets, ready)


def _asked_for() -> Path:
    """Return this folder where it holds a clutch, else the one that is named, made if missing."""
    import sys

    from optimizer.cli.output import say
    from optimizer.errors import InputError
    from optimizer.page.folder import Folder

    if Folder.of(Path()).clutches():
        return Path()
    place = Path.home() / "evenstack"
    if sys.stdin.isatty():
        question = "Which folder holds your clutches? It is made if missing"
        place = Path(typer.prompt(question, default=str(place))).expanduser()
    if not place.exists():
        try:
            place.mkdir(parents=True)
        except OSError as error:
            raise InputError(
                f"The folder {place} cannot be made ({error.strerror}). Name another one."
            ) from error
        say(f"Made the folder {place}.")
    return place
