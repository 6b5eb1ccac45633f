"""Who may come in: addresses, keys and the sessions that they opened."""

from __future__ import annotations

import socket
import threading
from dataclasses import dataclass, field
from hmac import compare_digest
from io import BytesIO, StringIO
from ipaddress import ip_address
from secrets import token_urlsafe
from typing import TYPE_CHECKING

from optimizer.errors import InputError

if TYPE_CHECKING:
    import segno

LOOPBACK = "127.0.0.1"
#: bytes of a key, and browsers that may be in at the same time
KEY_BYTES, MOST_SESSIONS = 18, 40
#: fields of the quiet border around a code
QUIET = 4


def new_key() -> str:
    """Draw a key that nobody guesses."""
    return token_urlsafe(KEY_BYTES)


@dataclass
class Doors:
    """The addresses that are listened on, and what opens them.

    `start_key` opens from this machine alone, as long as the server runs. `phone_key` opens
    once, from anywhere in the network; then another one takes its place.
    """

    port: int
    lan: str | None = None
    start_key: str = field(default_factory=new_key)
    phone_key: str = field(default_factory=new_key)
    sessions: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def hosts(self) -> tuple[str, ...]:
        """What a browser may say that it talks to."""
        names = (LOOPBACK, "localhost", *((self.lan,) if self.lan else ()))
        return tuple(f"{name}:{self.port}" for name in names)

    @property
    def cookie(self) -> str:
        """Name of the cookie; ports of one machine share their cookies."""
        return f"evenstack_{self.port}"

    @property
    def here(self) -> str:
        """The address to open on this machine."""
        return f"http://{LOOPBACK}:{self.port}/enter?key={self.start_key}"

    @property
    def phone(self) -> str | None:
        """The address to open once on a phone, None where nobody else may come in."""
        return f"http://{self.lan}:{self.port}/enter?key={self.phone_key}" if self.lan else None

    def enter(self, key: str, peer: str) -> str | None:
        """Open a session with a key; None where it does not open. `peer` is who asks."""
        said = key.encode()
        with self.lock:
            start = compare_digest(said, self.start_key.encode()) and _is_here(peer)
            phone = compare_digest(said, self.phone_key.encode()) and self.lan is not None
            if phone:
                self.phone_key = new_key()
            if not (start or phone):
                return None
            token = new_key()
            self.sessions = [*self.sessions[1 - MOST_SESSIONS :], token]
            return token

    def known(self, token: str) -> bool:
        """Whether a session is open; every one is compared, so that the time tells nothing."""
        said = token.encode()
        with self.lock:
            found = [compare_digest(said, each.encode()) for each in self.sessions]
        return any(found)


def _is_here(peer: str) -> bool:
    try:
        return ip_address(peer).is_loopback
    except ValueError:
        return False


def lan_address() -> str:
    """Return the address of this machine in its network; nothing is sent to find it.

    Raises
    ------
    InputError
        when it is in no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("10.255.255.255", 9))
            address = str(probe.getsockname()[0])
        except OSError:
            address = LOOPBACK
    if _is_here(address) or address == "0.0.0.0":
        raise InputError(
            "Expected a network that a phone can share with this machine, found none.",
            "--phone",
            "Join the wireless network of the phone, or leave --phone out.",
        )
    return address


def qr_text(address: str) -> str:
    """Draw the QR code of an address in characters, light on dark as on most terminals."""
    out = StringIO()
    _code(address).terminal(out, border=QUIET, compact=True)
    return out.getvalue()


def qr_svg(address: str) -> str:
    """Draw the QR code of an address as a picture."""
    out = BytesIO()
    _code(address).save(out, kind="svg", xmldecl=False, border=QUIET, light="#fff", omitsize=True)
    return out.getvalue().decode()


def _code(address: str) -> segno.QRCode:
    import segno

    return segno.make(address, error="m", micro=False)
