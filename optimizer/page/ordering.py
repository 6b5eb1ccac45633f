"""Ordering springs, and counting what came: long work, its answers shown from their files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import EvenstackError, InputError
from optimizer.face.sources import read_job
from optimizer.io.documents import read_document, read_own
from optimizer.io.numbers import typed_number
from optimizer.orders.document import SCHEMA, Order
from optimizer.orders.next_steps import next_steps, to_buy
from optimizer.orders.received import Received
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route, stopping
from optimizer.page.folder import ClutchFolder, files_in
from optimizer.page.works import named
from optimizer.report.order_card import hangs_loose, mended, order_card
from optimizer.report.received_card import received_card

#: sets that can be asked for, and orders that are shown
MOST_SETS, MOST_SHOWN = 1_000, 5


@dataclass(frozen=True)
class Shown:
    """One order or delivery of the folder; `problems` where its file cannot be read.

    `never` says what to do where no quantity keeps what was asked, "" where one does.
    """

    name: str
    order: Order | None
    delivery: Received | None
    card: str
    problems: tuple[str, ...] = ()
    never: str = ""


def order_page(asked: PageRequest) -> Answer:
    """Ask what to order for, and show what came of it."""
    clutch = asked.clutch
    units = read_job(clutch.job).units
    context = {
        **frame(asked.house, clutch),
        "step": "order",
        "run": asked.house.works.of(named(clutch.name, "order")),
        "catalogs": list(_catalogs(clutch)),
        "to_buy": to_buy,
        "mended": mended,
        "hangs_loose": hangs_loose,
        "units": units,
        "orders": [_shown(path, units) for path in _orders(clutch)[:MOST_SHOWN]],
    }
    return Page("order", context)


def _catalogs(clutch: ClutchFolder) -> dict[str, Path]:
    """Return the tables in the folder that may be catalogs, by name."""
    found = sorted(p for kind in ("*.csv", "*.xlsx") for p in files_in(clutch, kind))
    return {path.name: path for path in found}


def _orders(clutch: ClutchFolder) -> list[Path]:
    """Return the orders of a clutch, newest first."""
    found = files_in(clutch, "*/order.json")
    return sorted(found, key=lambda path: path.stat().st_mtime, reverse=True)


def _shown(path: Path, units: str) -> Shown:
    name = path.parent.name
    try:
        if (came := read_own(path, Received)) is not None:
            return Shown(name, None, came, received_card(came, units))
        order = read_document(path, Order, SCHEMA, "Order again.")
    except EvenstackError as error:
        return Shown(name, None, None, "", tuple(error.lines()))
    does = all(clutch.options[0].does for clutch in order.clutches)
    never = "" if does or order.joint else next_steps(order)[-1]
    return Shown(name, order, None, order_card(order), never=never)


def count_delivery(asked: PageRequest) -> Answer:
    """Begin to compare the discs in the bag with what was ordered."""
    clutch = asked.clutch
    chosen = asked.text("order")
    path = next((path for path in _orders(clutch) if path.parent.name == chosen), None)
    if path is None:
        raise InputError("There is no such order in this folder.")
    order = read_document(path, Order, SCHEMA, "Order again.")
    catalog = _catalogs(clutch).get(order.catalog)
    words = ("received", str(clutch.job), str(path), str(catalog or ""))
    asked.house.works.start(named(clutch.name, "order"), words)
    return Go(f"{clutch.url}/order")


def start(asked: PageRequest) -> Answer:
    """Begin to work out an order."""
    clutch = asked.clutch
    sets, typed, name = asked.text("sets"), asked.text("confidence"), asked.text("catalog")
    if not (sets.isascii() and sets.isdigit() and 1 <= int(sets[:9]) <= MOST_SETS):
        raise InputError(f"Expected a number of sets from 1 to {MOST_SETS}.")
    percent = typed_number(typed or "95", "confidence")
    if not 50 <= percent <= 99.9:
        raise InputError(f"Expected a confidence from 50 to 99.9 per cent, got {typed}.")
    catalog = _catalogs(clutch).get(name)
    if name and catalog is None:
        raise InputError("There is no such catalog in this folder.")
    where = "" if catalog is None else str(catalog)
    words = ("order", str(clutch.job), sets, where, f"{percent / 100:.6g}")
    asked.house.works.start(named(clutch.name, "order"), words)
    return Go(f"{clutch.url}/order")


ROUTES = [
    route("/c/{clutch}/order", order_page),
    route("/c/{clutch}/order/start", start, writes=True),
    route("/c/{clutch}/order/stop", stopping("order", "order", at_once=True), writes=True),
    route("/c/{clutch}/order/came", count_delivery, writes=True),
]
