"""An order that was planned before, read back from its order.json to be compared with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.errors import InputError, Problem
from optimizer.io.documents import read_document
from optimizer.orders.clutch import Clutch
from optimizer.orders.deliver import Making
from optimizer.orders.document import SCHEMA, Line
from optimizer.orders.quantity import Share

REMEDY = "Give the order.json that `evenstack order JOB --sets N --out DIR` wrote."


@dataclass(frozen=True)
class EarlierClutch:
    """What an order was for: so many sets of a clutch."""

    name: str
    sets: int
    target_n: float


@dataclass(frozen=True)
class Earlier:
    """An earlier order: what it was for, what was assumed, what it bought and how sure it was.

    `lines` are all the sizes it bought, for all its clutches; None where no quantity did.
    """

    file: str
    catalog: str
    asked: float
    making: Making
    clutches: tuple[EarlierClutch, ...]
    lines: tuple[Line, ...] | None
    confidence: Share

    def check(self, clutch: Clutch) -> None:
        """Refuse an order that was not planned for a clutch.

        Raises
        ------
        InputError
            when no clutch of the order has the name and the target of this one.
        """
        if any(
            of.name == clutch.name and abs(of.target_n - clutch.target_n) <= clutch.resolution_n
            for of in self.clutches
        ):
            return
        planned = " and ".join(f"{of.name} at {of.target_n:.1f} N" for of in self.clutches)
        raise InputError(
            Problem(
                f"Expected an order for {clutch.name} at {clutch.target_n:.1f} N, got one for "
                f"{planned}.",
                self.file,
                "Give the order of this job, or leave --plan out.",
            )
        )


def read_earlier(path: Path) -> Earlier:
    """Read an order file.

    Raises
    ------
    InputError
        as in `plan.store.read_document`.
    """
    return read_document(path, SCHEMA, REMEDY, lambda data: _earlier(path.name, data))


def _earlier(file: str, data: dict[str, Any]) -> Earlier:
    clutches = tuple(
        EarlierClutch(str(of["name"]), int(of["sets"]), float(of["target_n"]))
        for of in data["clutches"]
    )
    best = data["clutches"][0]["options"][0]
    lines: tuple[Line, ...] | None
    if data["joint"] is not None:
        lines = tuple(Line(**line) for line in data["joint"]["lines"])
        share = data["joint"]["confidence"]
    else:
        fields = ("size", "packs", "discs", "held", "cost")
        lines = None if best["packs"] is None else (Line(**{name: best[name] for name in fields}),)
        share = best["confidence"]
    return Earlier(
        file, str(data["catalog"]), float(data["asked"]), Making(**data["making"]), clutches, lines,
        Share(**share),
    )  # fmt: skip
