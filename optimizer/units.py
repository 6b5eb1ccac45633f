"""Units at the border: millimetres, newtons and megapascals inside, always."""

from __future__ import annotations

from scipy.constants import inch, lb, lbf

MM_PER_IN = inch * 1000.0
N_PER_LBF = lbf
NM_PER_LBF_FT = lbf * inch * 12
KG_PER_LB = lb

#: factor that turns a value with this unit suffix into the unit used inside
TO_INSIDE = {
    "mm": 1.0,
    "in": MM_PER_IN,
    "n": 1.0,
    "lbf": N_PER_LBF,
    "mpa": 1.0,
    "g": 1.0,
    "kg": 1.0,
    "lb": KG_PER_LB,
    "kgcm2": 1.0,
    "lbin2": KG_PER_LB * (inch * 100.0) ** 2,
    "nm": 1.0,
    "lbft": NM_PER_LBF_FT,
}
