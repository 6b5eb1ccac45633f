"""Stacks: packets in series under one shoe, any number of stacks at once.

One load goes through all packets and their deflections add. Arrays of packets have the
shape (S, P): S stacks of at most P packets, empty places allowed.
"""

from __future__ import annotations

import numpy as np

from optimizer.errors import MechanicsError
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Packets, compliance, limit_load, residual_cone_height


def free_height(p: Packets) -> Array:
    """Unloaded height in mm of stacks (S) without shims."""
    height: Array = (p.height_mm + p.free_mm).sum(-1)
    return height


def deflection(p: Packets, force_n: Array | float) -> Array:
    """Deflection in mm of stacks (S) under loads `force_n` (S)."""
    left = residual_cone_height(p, np.asarray(force_n)[..., None])
    pressed: Array = (p.free_mm - left).sum(-1)
    return pressed


def rate(p: Packets, force_n: Array | float) -> Array:
    """Stiffness in N/mm of stacks (S) at loads `force_n` (S); inf where nothing can yield."""
    left = residual_cone_height(p, np.asarray(force_n)[..., None])
    with np.errstate(divide="ignore"):
        stiffness: Array = 1 / compliance(p, left).sum(-1)
    return stiffness


def required_deflection(
    p: Packets, datum: Datum, travel_mm: Array | float, shims_mm: Array | float = 0.0
) -> Array:
    """Deflection in mm that stacks (S) have after `travel_mm` of the shoe."""
    before: Array = (p.free_mm - datum.base_mm(p)).sum(-1)
    return before + datum.required_travel_mm(travel_mm, shims_mm)


def stack_load(
    p: Packets, datum: Datum, travel_mm: Array | float, shims_mm: Array | float = 0.0
) -> Array:
    """Load in N of stacks (S) after `travel_mm` of the shoe.

    A stack that is still loose in its room carries 0.

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid or a disc past its load peak.
    """
    return load_at(p, required_deflection(p, datum, travel_mm, shims_mm))


def loads_below_flat(
    p: Packets, datum: Datum, travel_mm: Array | float, shims_mm: Array | float = 0.0
) -> Array:
    """Load in N of stacks (S) as in `stack_load`, but nan where a packet would be flat."""
    wanted = np.broadcast_to(
        required_deflection(p, datum, travel_mm, shims_mm), p.free_mm.shape[:-1]
    )
    fits = wanted < deflection(p, limit_load(p).min(-1))
    found = np.full(wanted.shape, np.nan)
    found[fits] = load_at(p.take(fits), wanted[fits])
    return found


def load_at(p: Packets, deflection_mm: Array | float) -> Array:
    """Load in N of stacks (S) pressed together by `deflection_mm` (S).

    Notes
    -----
    Deflection rises with load, so safeguarded Newton steps on sum s_p(F) = deflection
    converge from any start (EN 16984: series packets carry one load).

    Raises
    ------
    MechanicsError
        as in `stack_load`.
    """
    shape = p.free_mm.shape[:-1]
    wanted = np.broadcast_to(np.asarray(deflection_mm, dtype=np.float64), shape)
    limits = limit_load(p)  # inf for an empty place
    snaps = p.low_mm > 0
    low = np.zeros(shape)
    high = np.where(np.isfinite(limits), limits, 0.0).max(-1)
    high = np.minimum(high, np.where(snaps, limits, np.inf).min(-1))
    room = deflection(p, high) if snaps.any() else p.free_mm.sum(-1)
    _check_room(wanted, room, np.asarray(snaps.any(-1)))
    force = limits.min(-1) * np.clip(wanted / room, 0, 1)
    for _ in range(80):
        x = residual_cone_height(p, force[..., None])
        excess = (p.free_mm - x).sum(-1) - wanted
        low, high = np.where(excess < 0, force, low), np.where(excess < 0, high, force)
        soft = compliance(p, x).sum(-1)
        step = force - excess / np.where(soft > 0, soft, np.inf)
        inside = (step >= low) & (step <= high) & (soft > 0)
        new = np.where(inside, step, (low + high) / 2)
        if np.all(np.abs(new - force) <= 1e-11 * (1 + np.abs(force))):
            break
        force = new
    return np.where(wanted > 0, new, 0.0)


def _check_room(wanted: Array, room: Array, snaps: Mask) -> None:
    over = ~(wanted < room)
    if over.any():
        first = np.flatnonzero(over)[0]
        what = (
            "past the load peak of a steep disc (h/t near sqrt 2 or more), where it snaps through"
            if snaps.ravel()[first]
            else "solid"
        )
        raise MechanicsError(
            f"The travel presses stack {first + 1} {what}: {wanted.ravel()[first]:.3f} mm of "
            f"deflection asked, {room.ravel()[first]:.3f} mm there. Use more packets, thinner "
            "shims or less travel."
        )
