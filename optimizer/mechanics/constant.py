"""A packet's constant: what it adds to the linear identity of a stack at a fixed load.

At a load F a packet contributes c(F), and a stack carries F exactly when the sum of its
constants fills its room; an error of e mm in that sum is a load error of -rate * e:

    seating datum    c(F) = x(F_seat) - x(F)
    installed datum  c(F) = -(height + x(F))
"""

from __future__ import annotations

from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, packets, residual_cone_height
from optimizer.mechanics.sensitivity import residual_cone_gradient


def packet_constant(
    d: Discs, members: Index, model: LoadModel, datum: Datum, force_n: Array | float
) -> Array:
    """Constant c in mm of packets `members` (S + (m,)) at loads `force_n` (S)."""
    p = packets(d, members, model)
    return datum.base_mm(p) - residual_cone_height(p, force_n)


def packet_constant_gradient(
    d: Discs, members: Index, model: LoadModel, datum: Datum, force_n: Array | float
) -> Array:
    """Change of c by thickness, cone height and ln(stiffness) of each disc: S + (m, 3)."""
    here = residual_cone_gradient(d, members, model, force_n)
    return datum.base_gradient(d, members, model) - here
