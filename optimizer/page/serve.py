"""Listening: on this machine alone, or with a phone in its network too."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from types import FrameType

from optimizer.control import interrupts
from optimizer.errors import InputError
from optimizer.page.doors import LOOPBACK, Doors, lan_address
from optimizer.page.folder import Folder
from optimizer.page.house import House

#: the port that is taken where it is free, and how many after it are tried
PORT, TRIED = 8642, 20
#: connections at the same time, so that nobody in the network takes them all
MOST_AT_ONCE = 200
#: seconds that open pages are given to end
GRACE_S = 2


def listening(port: int | None, phone: bool) -> tuple[Doors, list[socket.socket]]:
    """Open the sockets to listen on.

    Raises
    ------
    InputError
        where the port is taken, or there is no network for a phone.
    """
    lan = lan_address() if phone else None
    hosts = (LOOPBACK, *((lan,) if lan else ()))
    ports = range(PORT, PORT + TRIED) if port is None else (port,)
    for number in ports:
        opened: list[socket.socket] = []
        try:
            for host in hosts:
                opened.append(_bound(host, number))
            return Doors(number, lan), opened
        except OSError:
            for one in opened:
                one.close()
    raise InputError(
        f"Port {ports[0]} is taken." if port else "No port is free.",
        "--port",
        "Is it open already? Else give another number with --port.",
    )


def _bound(host: str, port: int) -> socket.socket:
    # named as TCP, else answers wait for more to send: 40 ms each
    one = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if os.name == "posix":  # elsewhere it would let two programs share a port
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        one.bind((host, port))
        one.listen(64)
    except OSError:
        one.close()
        raise
    return one


def serve(
    folder: Folder, doors: Doors, sockets: list[socket.socket], ready: Callable[[], None]
) -> None:
    """Serve a folder until Ctrl-C; `ready` is called once pages can be opened."""
    import uvicorn

    from optimizer.page.app import application

    house = House(folder, doors)

    class Server(uvicorn.Server):
        """A server whose open pages hear that it ends."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            house.closing = True
            super().handle_exit(sig, frame)

    config = uvicorn.Config(
        application(house),
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="none",
        timeout_graceful_shutdown=GRACE_S,
        limit_concurrency=MOST_AT_ONCE,
    )
    with interrupts(lambda _signal, _frame: None):  # what ended the server ends nothing else
        ready()
        Server(config).run(sockets=sockets)
