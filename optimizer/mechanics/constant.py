"""A packet's constant: what it adds to the linear identity of a stack at a fixed load.

At a load F a packet contributes c(F), and a stack carries F exactly when the sum of its
constants fills its room; an error of e mm in that sum is a load error of -rate * e:

    seating datum    c(F) = x(F_seat) - x(F)
    installed datum  c(F) = -(height + x(F))
"""

from __future__ import annotations

from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, Model, packets, residual_cone_height
from optimizer.mechanics.sensitivity import cone_left_gradient
from optimizer.mechanics.stack import Datum, Seating


def packet_constant(
    d: Discs, members: Index, model: Model, datum: Datum, force_n: Array | float
) -> Array:
    """Constant c in mm of packets `members` (S + (m,)) at loads `force_n` (S)."""
    p = packets(d, members, model)
    base = residual_cone_height(p, datum.load_n) if isinstance(datum, Seating) else -p.height_mm
    constant: Array = base - residual_cone_height(p, force_n)
    return constant


def packet_constant_gradient(
    d: Discs, members: Index, model: Model, datum: Datum, force_n: Array | float
) -> Array:
    """Change of c by thickness, cone height and ln(stiffness) of each disc: S + (m, 3)."""
    gradient = -cone_left_gradient(d, members, model, force_n)
    if isinstance(datum, Seating):
        return gradient + cone_left_gradient(d, members, model, datum.load_n)
    gradient[..., 0] -= 1.0  # a thicker disc leaves that much less room
    return gradient
