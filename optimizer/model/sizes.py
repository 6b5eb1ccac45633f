"""Which discs are of one nominal size, whatever their own measured diameters."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: diameters that lie further apart than this are of different sizes: sizes in use differ by
#: half a millimetre at least (EN 16983), discs of one size by some tenths
GAP_MM = 0.4


def sizes(od_mm: ArrayLike, id_mm: ArrayLike) -> NDArray[np.intp]:
    """Number (n) of the size of each disc from its diameters in mm (n).

    Discs are of one size when a chain of neighbours joins them, each within `GAP_MM` of the
    next in both diameters.
    """
    both = np.stack([_steps(od_mm), _steps(id_mm)], axis=-1)
    return np.unique(both, axis=0, return_inverse=True)[1].reshape(-1).astype(np.intp)


def _steps(diameter_mm: ArrayLike) -> NDArray[np.intp]:
    """Number the groups of diameters with no gap inside, smallest first."""
    values = np.asarray(diameter_mm, dtype=np.float64)
    order = np.argsort(values, kind="stable")
    number = np.empty(len(values), dtype=np.intp)
    number[order] = np.cumsum(np.diff(values[order], prepend=values[order][:1]) > GAP_MM)
    return number
