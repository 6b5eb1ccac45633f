"""Units of options that are not part of a job."""

from __future__ import annotations

from optimizer.errors import InputError
from optimizer.units import TO_INSIDE


def length_factor(units: str) -> float:
    """Return the factor from a length in `units` to mm.

    Raises
    ------
    InputError
        when it is neither mm nor in.
    """
    if units not in ("mm", "in"):
        raise InputError.of(f"Expected mm or in, got {units}.", "--units", "Write --units mm.")
    factor: float = TO_INSIDE[units]
    return factor
