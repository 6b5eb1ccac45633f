"""Whether stacks dealt keep the limits of the job: height, deflection, press at rest."""

from __future__ import annotations

import numpy as np

from optimizer.match.subproblem import LOOSE
from optimizer.mechanics.disc import Discs
from optimizer.mechanics.packet import Index, packets, residual_cone_height
from optimizer.mechanics.stack import free_height
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.nominal import Candidate


def keeps_limits(
    candidate: Candidate, clutch: OrderedClutch, discs: Discs, members: Index, shim_mm: float
) -> bool:
    """Tell whether all stacks `members` (sets, shoes, packets, seats) keep them, as measured.

    Notes
    -----
    At the target, to which they are dealt: the free height in its window, every packet within
    the deflection limit, and on a worn drum (by the rate of the nominal stack) not flat and within
    that limit where there is one. In a room every stack presses at rest, unless it need not or its
    size and pattern hang loose there anyway.
    """
    rules, rate = clutch.rules, candidate.rate_n_per_mm
    p = packets(discs, members.reshape(-1, *members.shape[2:]), clutch.model)
    height = free_height(p)
    low, high = rules.free_height_mm or (0.0, np.inf)
    if height.min() < low or height.max() > high:
        return False
    worn_n = clutch.target_n + rate * (clutch.worn_travel_mm - clutch.travel_mm)
    for load_n, limit in (
        (clutch.target_n, rules.deflection_limit),
        (worn_n, rules.worn_limit or 1),
    ):
        share = 1 - residual_cone_height(p, load_n) / p.free_mm
        if share.max() > limit:
            return False
    if clutch.datum.has_room and clutch.pressing and not candidate.gap_mm:
        place = float(clutch.datum.lengths_mm(1).mean()) + LOOSE * clutch.target_n / rate
        return bool(height.min() + shim_mm >= place)
    return True
