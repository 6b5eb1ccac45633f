"""Packets: one to three discs nested in parallel, any number of packets at once.

Nested discs share x, the cone height left above the thicknesses; a disc whose cone is
shorter than x does not touch yet and carries nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import MechanicsError
from optimizer.frozen import Rows, frozen_arrays
from optimizer.mechanics.disc import Array, Discs, Mask
from optimizer.mechanics.law import Curve, Law

Index = NDArray[np.intp]

#: part of the way to the load peak that a disc with h/t >= sqrt 2 may be pressed
PEAK_MARGIN = 0.9


@dataclass(frozen=True)
class LoadModel:
    """What turns discs into loads: the law, a global factor and EN 16984 friction.

    `between` and `edge` are the friction factors w_M and w_R on loading.
    """

    law: Law
    load_factor: float = 1.0
    between: float = 0.0
    edge: float = 0.0

    def scale(self, n: Array) -> Array:
        """Load of a packet of `n` discs over the frictionless sum (EN 16984:2016)."""
        return self.load_factor / (1 - self.between * (n - 1) - self.edge)


@dataclass(frozen=True)
@frozen_arrays
class Packets(Rows):
    """Packets in an array of shape S; `curve` and `present` have shape S + (m,).

    `scale` (S) multiplies the summed load; `height_mm` (S) is the thicknesses and nesting;
    `free_mm` (S) is x when unloaded, `low_mm` (S) the least x allowed: 0 is flat, more where
    a disc with h/t >= sqrt 2 would come too near its load peak.
    """

    curve: Curve
    present: Mask
    scale: Array
    height_mm: Array
    free_mm: Array
    low_mm: Array


def packets(d: Discs, members: Index, model: LoadModel) -> Packets:
    """Nest the discs of each row of `members` (S + (m,), -1 where there is none).

    An all -1 row is an empty place: no height, no deflection.

    Raises
    ------
    MechanicsError
        for a disc that is not a cone: thickness, cone height or ring width not positive,
        or a cone so steep between flats so wide that the law has no answer.
    """
    present = members >= 0
    stand_in = np.maximum(members.max(-1, keepdims=True), 0)  # of the packet: keeps all finite
    chosen = d.take(np.where(present, members, stand_in))
    _check(d, members[present])
    n = present.sum(-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        curve = model.law(chosen, n[..., None].astype(np.float64))
    _check_curve(curve, present)
    thickness = np.where(present, chosen.thickness_mm, 0.0).sum(-1)
    interfaces = np.maximum(n - 1, 0) / np.maximum(n, 1)
    nesting = np.where(present, curve.nest_mm, 0.0).sum(-1) * interfaces
    free = np.where(present, curve.free_mm, 0.0)
    peak = _peak(curve)
    low = np.where(present & (peak > 0), free - PEAK_MARGIN * (free - peak), 0.0)
    return Packets(
        curve,
        present,
        model.scale(np.maximum(n, 1).astype(np.float64)),
        thickness + nesting,
        free.max(-1),
        low.max(-1),
    )


def _check(d: Discs, used: Index) -> None:
    for what, values in (
        ("inside diameter", d.id_mm),
        ("thickness", d.thickness_mm),
        ("cone height", d.cone_height_mm),
        ("ring width between the dressed edges", d.od_mm - d.id_mm - 4 * d.flat_mm),
    ):
        bad = ~(values[used] > 0)
        if bad.any():
            worst = used[bad][0]
            raise MechanicsError(
                f"Expected a {what} > 0 mm, got {values[worst]:g}: only a cone with a ring to "
                "press on is a spring. Leave it out."
            )


def _check_curve(curve: Curve, present: Mask) -> None:
    bad = present & ~(np.isfinite(curve.q) & (curve.free_mm > 0) & (curve.g > 0))
    if bad.any():
        raise MechanicsError(
            "A disc is too steep for so wide a flat: the load law has no answer. Measure its cone "
            "height and its flat again, or leave it out."
        )


def _peak(c: Curve) -> Array:
    """Cone height left in mm at which the load is greatest; 0 where it rises to flat.

    The slope is 0 where g p + m q + 3 a g eta^2 + 2 a m eta^3 = 0. The last term is small
    (arms hardly turn), so a few rounds of solving for eta^2 settle it.
    """
    eta = np.zeros_like(c.p)
    for _ in range(6):
        square = -(c.g * c.p + c.m * c.q) / (c.a * (3 * c.g + 2 * c.m * eta))
        if not (square > 0).any():
            return np.zeros_like(eta)  # all rise to flat, as most discs do
        eta = np.sqrt(np.maximum(square, 0.0))
    return c.g * eta + c.m * eta**2 / 2


def load(p: Packets, x_mm: Array) -> Array:
    """Load in N of packets (S) at cone height left `x_mm` (S)."""
    return _load_and_slope(p, x_mm)[0]


def compliance(p: Packets, x_mm: Array) -> Array:
    """Deflection per load in mm/N at cone height left `x_mm` (S); 0 where rigid at its lowest."""
    slope = _load_and_slope(p, x_mm)[1]
    soft = (slope < 0) & (x_mm > p.low_mm)
    return np.where(soft, -1 / np.where(soft, slope, -1.0), 0.0)


def disc_loads(p: Packets, x_mm: Array) -> Array:
    """Frictionless load in N that each disc (S + (m,)) carries; 0 where it does not touch."""
    return _per_disc(p, x_mm)[0]


def _per_disc(p: Packets, x_mm: Array) -> tuple[Array, Array]:
    """Load and its slope in x of each disc, S + (m,)."""
    c = p.curve
    x = np.asarray(x_mm)[..., None]
    root = np.sqrt(c.g**2 + 2 * c.m * x)  # is g + m eta, the lever arm
    eta = 2 * x / (c.g + root)
    force = (c.q - c.p * eta - c.a * eta**3) / root
    slope = (-(c.p + 3 * c.a * eta**2) - c.m * force) / root**2
    touching = p.present & (x <= c.free_mm)  # just touching: no load, but a rate already
    return np.where(touching, force, 0.0), np.where(touching, slope, 0.0)


def _load_and_slope(p: Packets, x_mm: Array) -> tuple[Array, Array]:
    force, slope = _per_disc(p, x_mm)
    return p.scale * force.sum(-1), p.scale * slope.sum(-1)


def limit_load(p: Packets) -> Array:
    """Load in N at which a packet (S) is flat, or as near its peak as allowed."""
    return np.where(p.present.any(-1), load(p, p.low_mm), np.inf)


def residual_cone_height(p: Packets, force_n: Array | float) -> Array:
    """Cone height left x in mm of packets (S) under loads `force_n` (broadcast to S).

    Beyond the limit load the packet stays at its lowest x, as a rigid body.

    Notes
    -----
    With u = -x a packet whose discs all touch is one cubic with summed coefficients, exact
    for EN 16984 (Almen and Laszlo, Trans. ASME 58, 1936, is a cubic in the deflection from
    flat) and the start of safeguarded Newton steps where a disc hangs free or arms turn.
    """
    force = np.broadcast_to(np.asarray(force_n, dtype=np.float64), p.free_mm.shape)
    low, high = p.low_mm, p.free_mm
    x = np.clip(_cubic_start(p, force), low, high)
    for _ in range(60):
        value, slope = _load_and_slope(p, x)
        excess = value - force
        low, high = np.where(excess > 0, x, low), np.where(excess > 0, high, x)
        step = x - excess / np.where(slope < 0, slope, -np.inf)
        inside = (step >= low) & (step <= high) & (slope < 0)
        new = np.where(inside, step, (low + high) / 2)
        if np.all(np.abs(new - x) <= 1e-14 + 1e-13 * x):
            break
        x = new
    return np.where(p.present.any(-1), new, 0.0)


def _cubic_start(p: Packets, force: Array) -> Array:
    """Root of the summed cubic as if every disc touched and no lever arm turned."""
    c = p.curve
    a = p.scale * np.where(p.present, c.a / c.g**4, 0.0).sum(-1)
    b = p.scale * np.where(p.present, c.p / c.g**2, 0.0).sum(-1)
    q = p.scale * np.where(p.present, c.q / c.g, 0.0).sum(-1)
    rising = b > 0
    ratio = np.where(rising, b, 1.0) / np.where(a > 0, a, 1.0)
    half = np.sqrt(ratio / 3)
    argument = 1.5 * (force - q) / np.where(rising, b, 1.0) / half
    return np.where(rising, -2 * half * np.sinh(np.arcsinh(argument) / 3), p.free_mm / 2)


def nesting_order(cone_height_mm: Array) -> Index:
    """Order of the discs of one packet, bottom to top, without a valley: tallest first.

    A shorter cone between two taller ones carries 0.2 to 0.85 of the sum of its discs
    (finite-element study, tests/data/README.md); a falling order never has one.
    """
    return np.argsort(-np.asarray(cone_height_mm), kind="stable")
