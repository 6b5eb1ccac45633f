"""What every disc of a stack does at a load: deflection, share of its cone, stresses."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs, k1, k2, k3, lever_ratio
from optimizer.mechanics.packet import Index, Packets, disc_loads, residual_cone_height


@dataclass(frozen=True)
@frozen_arrays
class Stresses:
    """Stresses in MPa, tension positive, arrays of one shape.

    `om` at the top of the section on the centre of rotation, `i` inside top, `ii` inside
    bottom, `iii` outside bottom, `iv` outside top; the disc lies with its cone upwards.
    """

    om: Array
    i: Array
    ii: Array
    iii: Array
    iv: Array


def stresses(d: Discs, deflection_mm: Array) -> Stresses:
    """Stresses of discs pressed by `deflection_mm` (broadcast to the shape of `d`).

    Notes
    -----
    EN 16984:2016, uniform section (K4 = 1), with C = 4E/(1-nu^2) t^2/(K1 De^2) s/t,
    delta = De/Di and v = h/t - s/2t:
    sigma_OM = -3/pi C, sigma_I and II = -C (K2 v +- K3),
    sigma_III and IV = -C ((K2 - 2 K3) v -+ K3) / delta.
    A dressed disc turns further, as its lever arm is shorter: r h and r s stand for h and s.
    The disc's own `factor` is left out, as an unknown stiffness need not be the modulus.
    """
    r = lever_ratio(d)
    t, delta = d.thickness_mm, d.od_mm / d.id_mm
    s = r * np.asarray(deflection_mm, dtype=np.float64)
    v = (r * d.cone_height_mm - s / 2) / t
    c = 4 * d.modulus_mpa / (1 - d.poisson**2) * t * s / (k1(delta) * d.od_mm**2)
    bend, turn = k2(delta), k3(delta)
    outside = (bend - 2 * turn) * v
    return Stresses(
        om=-3 / np.pi * c,
        i=-c * (bend * v + turn),
        ii=-c * (bend * v - turn),
        iii=-c * (outside - turn) / delta,
        iv=-c * (outside + turn) / delta,
    )


@dataclass(frozen=True)
@frozen_arrays
class DiscStates:
    """State of each disc of packets (S): arrays of shape S + (m,), 0 where there is none.

    `deflection_mm` is from the disc's own free cone, 0 while it hangs free; `share` is that
    over the free cone (1 is flat); `load_n` is what the disc carries, friction and load
    factor included, so that it sums to the load of the stack; `stress` in MPa.
    """

    deflection_mm: Array
    share: Array
    load_n: Array
    stress: Stresses


def disc_states(d: Discs, members: Index, p: Packets, force_n: Array | float) -> DiscStates:
    """State of the discs of stacks under loads.

    Parameters
    ----------
    d, members, p
        discs, their places and the packets made of them, as in `packet.packets`: with P
        packets a stack, `members` has the shape S + (P, m).
    force_n
        load in N of each stack, broadcast to S. Past its limit load a packet is rigid and
        its discs carry no more, so `load_n` then sums to less.
    """
    left = residual_cone_height(p, np.asarray(force_n)[..., None])
    free = p.curve.free_mm
    pressed = np.where(p.present, np.maximum(free - left[..., None], 0.0), 0.0)
    share = np.where(p.present, pressed / free, 0.0)
    chosen = d.take(np.where(p.present, members, 0))
    at_flats = stresses(chosen, share * chosen.cone_height_mm)
    return DiscStates(
        pressed,
        share,
        p.scale[..., None] * disc_loads(p, left),
        Stresses(*(np.where(p.present, getattr(at_flats, f.name), 0.0) for f in fields(Stresses))),
    )


def shares(p: Packets, force_n: Array | float) -> Array:
    """Deflection share of the packets (S, P) of stacks under loads `force_n` (S); 0 where none is.

    It is that of a packet's most pressed disc, its tallest cone, so no disc needs to be looked at.
    """
    pressed = p.free_mm - residual_cone_height(p, np.asarray(force_n)[..., None])
    return np.asarray(pressed / np.where(p.free_mm > 0, p.free_mm, 1.0))


def greatest_share(p: Packets, force_n: Array | float) -> Array:
    """Deflection share of the most pressed disc of stacks (S) under loads `force_n` (S)."""
    return np.asarray(shares(p, force_n).max(-1))
