"""The files of a new job folder, printed from the same table the reader checks against."""

from __future__ import annotations

import textwrap
from typing import Any

from optimizer.io.job.keys import SECTIONS, Key, keys_of
from optimizer.model.job import Units
from optimizer.units import MM_PER_IN

_SUFFIX = {
    "mm": {"length": "mm", "load": "n", "modulus": "mpa", "mass": "g",
           "weight": "kg", "inertia": "kgcm2"},
    "in": {"length": "in", "load": "lbf", "modulus": "mpa", "mass": "g",
           "weight": "lb", "inertia": "kgcm2"},
}  # fmt: skip

#: what the template shows (metric, inch) where the default would not be a good example
_EXAMPLES = {
    ("bag", "file"): ('"bag.csv"', '"bag.csv"'),
    ("clutch", "travel"): ("1.5", "0.060"),
    ("clutch", "worn_travel"): ("1.7", "0.068"),
    ("clutch", "shoe_mass"): ("210", "210"),
    ("clutch", "cg_radius"): ("52", "2.05"),
    ("clutch", "drum_radius"): ("63.5", "2.5"),
    ("clutch", "friction"): ("0.3", "0.3"),
    ("clutch", "stack_radius"): ("40", "1.57"),
    ("disc", "hot_c"): ("120", "120"),
    ("clutch", "shoe_type"): ('"sliding"',) * 2,
    ("clutch", "pivot_radius"): ("40", "1.57"),
    ("clutch", "cg_angle"): ("40", "40"),
    ("clutch", "heel_angle"): ("20", "20"),
    ("clutch", "toe_angle"): ("95", "95"),
    ("clutch", "pivot_angle"): ("0", "0"),
    ("engine", "torque_file"): ('"engine.csv"',) * 2,
    ("engine", "inertia"): ("45", "45"),
    ("engine", "gear_ratio"): ("7", "7"),
    ("engine", "wheel_radius"): ("136", "5.35"),
    ("engine", "vehicle_mass"): ("165", "364"),
    ("engine", "rolling_drag"): ("40", "9"),
    ("life", "drum_wear"): ("0.01", "0.0004"),
    ("life", "lining_wear"): ("0.02", "0.0008"),
    ("life", "travel_new"): ("1.42", "0.056"),
    ("life", "races_run"): ("8", "8"),
    ("life", "relaxation"): ("0.02", "0.02"),
    ("life", "fatigue_range"): ("500", "500"),
    ("engine", "drag_area_m2"): ("0.5", "0.5"),
    ("engine", "drum_mass"): ("900", "900"),
    ("clutch", "arm_centre"): ("26", "1.02"),
    ("clutch", "arm_stack"): ("40", "1.57"),
    ("clutch", "arm_lining"): ("32", "1.26"),
    ("datum", "seating_load"): ("27", "6"),
    ("datum", "installed_length"): ("11.6", "0.457"),
    ("target", "load"): ("890", "200"),
    ("target", "engagement_rpm"): ("3400", "3400"),
    ("target", "load_tolerance"): ("22", "5"),
    ("target", "spread_tolerance"): ("9", "2"),
    ("stack", "discs"): ("[7, 9]", "[7, 9]"),
    ("stack", "free_height"): ("[10, 14]", "[0.40, 0.55]"),
    ("stack", "shims"): ("[0.1, 0.1, 0.2]", "[0.004, 0.004, 0.008]"),
    ("stack", "worn_limit"): ("0.8", "0.8"),
    ("stack", "use"): ('["A01"]', '["A01"]'),
    ("stack", "leave"): ('["A28"]', '["A28"]'),
    ("stack", "together"): ('[["A02", "A03"], ["A04", "A05"]]',) * 2,
    ("instrument", "thickness_sd"): ("0.002", "0.0001"),
    ("instrument", "height_sd"): ("0.005", "0.0002"),
    ("disc", "od"): ("20", "0.787"),
    ("disc", "id"): ("10.2", "0.402"),
    ("disc", "thickness"): ("1.05", "0.0413"),
    ("disc", "cone_height"): ("0.42", "0.0165"),
}

#: keys that are set in the template; the others are shown behind a #
_SET = {
    ("bag", "file"), ("clutch", "shoes"), ("clutch", "travel"), ("datum", "seating_load"),
    ("target", "load"), ("target", "load_tolerance"), ("target", "spread_tolerance"),
    ("stack", "packet_sizes"), ("instrument", "thickness_sd"), ("instrument", "height_sd"),
    ("model", "law"), ("gauge", "reads"),
}  # fmt: skip

_ABOUT = {
    "bag": "The measured discs.",
    "clutch": "The clutch; the stacks sit under its shoes.",
    "datum": "Where the travel is counted from: give exactly one of the two.",
    "target": "What is asked of every stack: give exactly one of load and engagement_rpm.",
    "stack": "What a stack may look like.",
    "disc": "What holds for every disc unless its row in the bag says otherwise.",
    "instrument": "How well the discs are measured.",
    "model": "The load formula and what is not measured.",
    "friction": "Friction on loading, off by default; usual values are 0.002 to 0.03 between "
    "discs and 0.01 to 0.05 at the edges.",
    "gauge": "The bench gauge that reads the stacks.",
    "life": "What wears and tires; engage then tells how many races a setup lasts.",
    "effort": "Minutes of a person, by which ways compares the work before it is done.",
    "engine": "Engine and vehicle; engage then tells where the clutch holds and what a start does.",
}

#: invented discs: thickness, cone height and flat in mm
_INVENTED = (
    (1.052, 0.422, 0.14), (1.047, 0.416, 0.13), (1.052, 0.431, 0.13), (1.048, 0.424, 0.15),
    (1.053, 0.413, 0.14), (1.056, 0.409, 0.13), (1.041, 0.410, 0.11), (1.051, 0.410, 0.14),
    (1.053, 0.419, 0.10), (1.049, 0.420, 0.14), (1.043, 0.416, 0.13), (1.047, 0.428, 0.13),
    (1.052, 0.427, 0.13), (1.051, 0.421, 0.14), (1.045, 0.421, 0.16), (1.043, 0.427, 0.14),
    (1.048, 0.436, 0.15), (1.045, 0.421, 0.15), (1.051, 0.425, 0.14), (1.056, 0.432, 0.13),
    (1.053, 0.416, 0.14), (1.045, 0.415, 0.14), (1.057, 0.429, 0.12), (1.047, 0.425, 0.11),
    (1.049, 0.419, 0.16), (1.056, 0.417, 0.13), (1.050, 0.432, 0.13), (1.050, 0.423, 0.14),
)  # fmt: skip
_OD_MM, _ID_MM = 20.0, 10.2


def job_template(units: Units) -> str:
    """Return a commented job.toml with every key: meaning, unit, default."""
    parts = [
        _remark(
            "A job of evenstack: which discs go under which shoe. A line behind # is a remark or "
            "a key that is not set; take the # away to set it. The unit is part of the key: "
            "lengths end in _mm or _in, loads in _n or _lbf."
        )
    ]
    for section in SECTIONS:
        lines = [_remark(_ABOUT[section]), f"[{section}]"]
        lines += [_key(key, units) for key in keys_of(section)]
        if section == "clutch":
            lines.append(_shoe(units))
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _remark(text: str) -> str:
    return "\n".join(f"# {line}" for line in textwrap.wrap(text, 96))


def _spelled(key: Key, units: Units) -> str:
    suffix = _SUFFIX[units].get(key.quantity)
    return f"{key.name}_{suffix}" if suffix else key.name


def _key(key: Key, units: Units) -> str:
    spelled = _spelled(key, units)
    at = (key.section, key.name)
    default = _toml(key.default, key.spellings()[spelled])
    says = key.meaning
    if key.choices:
        says += ": " + " or ".join(f'"{choice}"' for choice in key.choices)
    if key.default is not None:
        says += f"; default {default}"
    value = _EXAMPLES[at][units == "in"] if at in _EXAMPLES else default
    return f"{_remark(says)}\n{'' if at in _SET else '# '}{spelled} = {value}"


def _toml(value: Any, factor: float) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(item, factor) for item in value)}]"
    if value is None:
        return ""
    shown = f"{value / factor:.4g}"
    return f"{value / factor:.6f}".rstrip("0").rstrip(".") if "e" in shown else shown


def _shoe(units: Units) -> str:
    remark = _remark(
        "Shoes that differ: one table for each shoe, in the order of the shoes, with any key of "
        "[clutch] but shoes; what it leaves out is taken from above."
    )
    key = next(key for key in keys_of("clutch.shoe") if key.name == "travel")
    shown = "1.52" if units == "mm" else "0.061"
    return f"{remark}\n# [[clutch.shoe]]\n# {_spelled(key, units)} = {shown}"


def bag_template(units: Units) -> str:
    """Return a bag.csv of invented discs that says so in every row."""
    digits = {"mm": 3, "in": 5}[units]
    factor = 1.0 if units == "mm" else MM_PER_IN
    header = ",".join(f"{length}_{units}" for length in ("od", "id", "thickness", "cone_height"))
    rows = [f"disc,{header},edge,flat_{units},lot,note"]
    for number, (thickness, cone_height, flat) in enumerate(_INVENTED, 1):
        lengths = (_OD_MM, _ID_MM, thickness, cone_height, flat)
        od, inner, t, h, w = (f"{length / factor:.{digits}f}" for length in lengths)
        rows.append(f"A{number:02d},{od},{inner},{t},{h},dressed,{w},A,invented")
    return "\n".join(rows) + "\n"


def readings_template(units: Units) -> str:
    """Return a readings.csv with its header alone."""
    return f"round,shoe,discs,kind,load_{_SUFFIX[units]['load']}\n"
