"""The files of a new job folder, printed from the same table the reader checks against."""

from __future__ import annotations

import textwrap

from optimizer.io.job.keys import ARMS, INCH, SECTIONS, Key, keys_of, toml
from optimizer.model.job import Units
from optimizer.units import MM_PER_IN

ABOUT = {
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
    "effort": "Minutes of a person, by which ways compares the work before it is done; "
    "assumptions: common practice, no source.",
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
        lines = [_remark(ABOUT[section]), f"[{section}]"]
        lines += [_key(key, units) for key in keys_of(section)]
        if section == "clutch":
            lines.append(_shoe(units))
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _remark(text: str) -> str:
    return "\n".join(f"# {line}" for line in textwrap.wrap(text, 96))


def _key(key: Key, units: Units) -> str:
    spelled = key.spelled(units)
    says = key.meaning
    if key.choices:
        says += ": " + " or ".join(f'"{choice}"' for choice in key.choices)
    if key.default is not None and key.name not in ARMS:  # without arms a shoe slides
        says += f"; default {toml(key.default, key.spellings()[spelled])}"
    return f"{_remark(says)}\n{'' if key.says.is_set else '# '}{spelled} = {key.example(spelled)}"


def _shoe(units: Units) -> str:
    remark = _remark(
        "Shoes that differ: one table for each shoe, in the order of the shoes, with any key of "
        "[clutch] but shoes; what it leaves out is taken from above."
    )
    key = next(key for key in keys_of("clutch.shoe") if key.name == "travel")
    shown = "1.52" if units == "mm" else "0.061"
    return f"{remark}\n# [[clutch.shoe]]\n# {key.spelled(units)} = {shown}"


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
    return f"round,shoe,discs,kind,load_{INCH['n'] if units == 'in' else 'n'}\n"
