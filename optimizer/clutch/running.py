"""What the bench does not see of a running clutch: the springs' own mass, heat, the way back.

All three move the shoes together, so they say nothing of how alike the stacks are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.clutch.shoes import KGM_PER_GMM
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, packets
from optimizer.mechanics.stack import stack_load

#: density of spring steel in g/mm^3 (common value, no source)
STEEL_G_PER_MM3 = 7.85e-3
#: temperature in C, and the modulus of carbon steel there over that at 21 C (ASME B31.1,
#: table C-1, carbon steel of 0.3 % carbon or less, from memory)
MODULUS_AT = ((21.0, 1.0), (93.0, 0.976), (149.0, 0.959), (204.0, 0.939), (260.0, 0.925))


@dataclass(frozen=True)
@frozen_arrays
class Running:
    """How a running clutch differs from what its stacks carry cold on the bench.

    `stack_mass_g` (S) and `stack_pull_kgm` (S) are None where it is not known how the stacks
    lie, `release_share` (S), load on the way back over load on the way out, where the job gives
    no friction or the stacks are not known; `hot_share` is load hot over load cold, None without a
    temperature.
    """

    stack_mass_g: Array | None = None
    stack_pull_kgm: Array | None = None
    hot_c: float | None = None
    hot_share: float | None = None
    release_share: Array | None = None


def stack_mass_g(d: Discs, members: Index) -> Array:
    """Mass in g of stacks (S, P, 3): rings of steel, dressed corners not taken off."""
    ring = np.pi / 4 * (d.od_mm**2 - d.id_mm**2) * d.thickness_mm * STEEL_G_PER_MM3
    mass: Array = np.where(members >= 0, ring[members], 0.0).sum((1, 2))
    return mass


def stack_pull_kgm(mass_g: Array, radius_mm: Array, length_mm: Array) -> Array:
    """Pull in kg m of stacks that lie along the radius, between the hub and their shoe.

    Parameters
    ----------
    mass_g, length_mm : of each stack (S) as it stands at the drum
    radius_mm : distance of its middle from the axis (S)

    Notes
    -----
    A spring held at both ends passes on to its outer one, of what is thrown outwards at x from
    the inner one, the share x/L (statics of a uniform rod): m (r/2 + L/12) in all.
    """
    return mass_g * (radius_mm / 2 + length_mm / 12) * KGM_PER_GMM


def modulus_share(celsius: float) -> float:
    """Modulus of carbon steel at a temperature over that at 21 C, straight between the rows."""
    at, share = zip(*MODULUS_AT, strict=True)
    return float(np.interp(celsius, at, share))


def release_share(
    d: Discs, members: Index, model: LoadModel, datum: Datum, travel_mm: Array, shims_mm: Array
) -> Array:
    """Load (S) of stacks at their travel on the way back, over that on the way out.

    Notes
    -----
    EN 16984: friction in a packet of n adds to the load on the way out and takes from it on the
    way back, 1 / (1 -+ w_M (n - 1) -+ w_R). A stack comes back from the drum at the same travel.
    """
    back = replace(model, between=-model.between, edge=-model.edge)
    out, home = (
        stack_load(packets(d, members, m), datum, travel_mm, shims_mm) for m in (model, back)
    )
    return home / out
