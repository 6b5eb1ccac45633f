"""How a maker makes discs, as it is assumed; light, as the options of `order` state it too."""

from __future__ import annotations

from dataclasses import dataclass

#: what may be assumed, lowest and highest
RANGES: dict[str, tuple[float, float]] = {
    "limits_at_sd": (0.5, 20),
    "lot_share": (0.0, 5),
    "modulus_sd": (0.0, 0.2),
    "disc_stiffness_sd": (0.0, 0.2),
    "flat_mm": (0, 20),
}


@dataclass(frozen=True)
class Manufacture:
    """How discs are made; all of it assumed, none of it measured.

    A maker aims at nominal and keeps the nearer limit of thickness and of overall height at
    `limits_at_sd` standard deviations of all discs; what lies outside either limit, or
    outside the limits of load, is not delivered. The means of lots scatter by `lot_share` of
    the deviation within a lot, their modulus by `modulus_sd`; single discs are stiffer or
    softer by `disc_stiffness_sd`. The buyer dresses edges to flats of `flat_mm`; all packs of
    an order come from one lot.
    """

    limits_at_sd: float = 3.0
    lot_share: float = 0.5
    modulus_sd: float = 0.015
    disc_stiffness_sd: float = 0.01
    flat_mm: float = 0.0
