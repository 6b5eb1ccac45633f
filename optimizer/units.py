"""Units at the border: millimetres, newtons and megapascals inside, always."""

from __future__ import annotations

from scipy.constants import inch, lbf

MM_PER_IN = inch * 1000.0
N_PER_LBF = lbf

#: factor that turns a value with this unit suffix into the unit used inside
TO_INSIDE = {
    "mm": 1.0,
    "in": MM_PER_IN,
    "n": 1.0,
    "lbf": N_PER_LBF,
    "mpa": 1.0,
    "g": 1.0,
}
