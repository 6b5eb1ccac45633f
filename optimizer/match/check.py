"""Whether a set keeps every limit of the job: looked at once, on the exact mechanics.

However an answer was found, it passes here before it is shown.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer import text
from optimizer.errors import MechanicsError
from optimizer.estimate.problem import Task
from optimizer.match.packets import worn_bearable
from optimizer.match.result import Assigned, exact
from optimizer.match.subproblem import Chosen, Subproblem
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Packets
from optimizer.mechanics.stack import deflection, free_height, required_deflection
from optimizer.mechanics.state import greatest_share

#: what rounding may add to a load in N, a length in mm, a share of the cone height
ROUNDING_N, ROUNDING_MM, ROUNDING_SHARE = 1e-6, 1e-9, 1e-9


def broken(task: Task, answer: Assigned) -> tuple[str, ...]:
    """Say which limits of the job a set breaks; nothing where it keeps all of them.

    That no stack is pressed solid, at the travel or on a worn drum, is known of every
    `Assigned`: its loads could be computed.
    """
    return (*_of_discs(task, answer), *_of_stacks(task, answer))


def _of_discs(task: Task, answer: Assigned) -> Iterator[str]:
    stacks = [stack[stack >= 0].tolist() for stack in answer.stacks]
    used = [d for stack in stacks for d in stack]
    if len(set(used)) < len(used):
        yield "a disc is used twice"
    if not set(used) <= set(task.usable.tolist()):
        yield "a disc is used that is to be left"
    if not set(task.use.tolist()) <= set(used):
        yield "a disc is left that must be used"
    for group in task.together:
        within = [len(set(group.tolist()) & set(stack)) for stack in stacks]
        if sum(within) and max(within) < len(group):
            yield "discs that belong together are under different shoes"
    on_hand = list(task.rules.shims_mm)
    for shim in (shim for shims in answer.shims for shim in shims):
        if shim not in on_hand:
            yield f"there is no shim of {text.length(shim, task.units)} left"
            return
        on_hand.remove(shim)


def _of_stacks(task: Task, answer: Assigned) -> Iterator[str]:
    rules = task.rules
    low, high = rules.discs or (0, len(task.belief))
    if not all(low <= pattern.discs <= high for pattern in answer.patterns):
        yield "a stack has more or fewer discs than allowed"
    if not {size for pattern in answer.patterns for size in pattern.sizes} <= set(
        rules.packet_sizes
    ):
        yield "a packet has a size that is not allowed"
    if rules.same_pattern and len(set(answer.patterns)) > 1:
        yield "the stacks have different patterns"
    p = task.packets(answer.stacks)
    height = free_height(p)
    lowest, highest = rules.height_window_mm
    if height.min() < lowest - ROUNDING_MM or height.max() > highest + ROUNDING_MM:
        yield "a free height is outside its window"
    off = np.abs(answer.work_n - task.target_n) * task.weight
    if off.max() > task.load_tolerance_n + ROUNDING_N:
        yield "a load is further from its target than the tolerance"
    share = greatest_share(p, answer.work_n).max()
    if share > rules.deflection_limit + ROUNDING_SHARE:
        yield f"a packet is pressed to {share:.3f} h"
    if rules.worn_limit is not None:
        worn = greatest_share(p, answer.worn_n).max()
        if worn > rules.worn_limit + ROUNDING_SHARE:
            yield f"a packet is pressed to {worn:.3f} h on a worn drum"


def bears_worn(
    task: Task, p: Packets, datum: Datum, travel_mm: Array | float, shims_mm: float = 0.0
) -> Mask:
    """Whether stacks of packets (M, P) come to a worn drum's travel short of flat or the limit."""
    worn = required_deflection(p, datum, travel_mm, shims_mm)
    # the deflection at which the first packet of the stack would be flat, or at its limit
    return worn < deflection(p, worn_bearable(task, p).min(-1))


def kept(task: Task, made: Subproblem, chosen: Chosen) -> Assigned | None:
    """Return the set of some columns, computed exactly; None where it breaks a limit of the job."""
    try:
        answer = exact(task, made.stacks(chosen), made.shims, made.variance_n2(chosen))
    except MechanicsError:  # solid at the travel or on a worn drum
        return None
    return None if broken(task, answer) else answer
