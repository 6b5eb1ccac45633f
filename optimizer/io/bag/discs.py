"""From the measurements of one disc to the disc itself, with the defaults of the job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.errors import Problem
from optimizer.io.bag.rows import Measurement, place
from optimizer.model.bag import Disc, Edge
from optimizer.model.job import DiscDefaults

#: share of the cone height up to which a load of the disc alone is taken
DEEPEST = 0.9


def make_disc(
    file: str, row: Measurement, rows: Sequence[Measurement], defaults: DiscDefaults
) -> Disc | list[Problem]:
    """Return the disc of an averaged measurement of some rows, or everything wrong with it.

    Whether its heights make sense is left to `optimizer.io.bag.slips`, which sees the
    whole column.
    """
    lengths = dict(row.lengths)
    measured = {"thickness"} if "thickness" in lengths else set()
    measured |= {"cone_height"} if row.height is not None else set()
    nominal = {"thickness": defaults.thickness_mm, "cone_height": defaults.cone_height_mm}
    lengths.update({f: v for f, v in nominal.items() if f not in measured and v is not None})
    od = lengths.get("od", defaults.od_mm)
    inner = lengths.get("id", defaults.id_mm)
    edge: Edge = "dressed" if row.words["edge"] == "dressed" else "sharp"
    flat, assumed = _flat(edge, lengths.get("flat"), defaults)
    radius = lengths.get("edge_radius", 0.0)
    found = _flat_problems(edge, lengths.get("flat"))
    if edge == "dressed" and radius:
        found.append(
            (
                f"Expected no edge radius on a dressed disc, got {radius:.5g} mm.",
                "Its load acts on the flat: delete the radius, or write sharp.",
            )
        )
    for name, value in (("od", od), ("id", inner)):
        if value is None:
            found.append(
                (
                    f"Expected a number for {name}, found none.",
                    f"Fill it in, or set [disc] {name}_mm or {name}_in in the job.",
                )
            )
    missing = [name for name in nominal if name not in lengths and name not in measured]
    found += [
        (
            f"Expected a number for {name.replace('_', ' ')}, found none in any row of the disc.",
            f"Measure it, or give its nominal value as [disc] {name}_mm or {name}_in in the job.",
        )
        for name in missing
    ]
    if od is not None and inner is not None and not missing:
        if inner >= od:
            found.append(
                (
                    f"Expected id < od, got id {inner:.5g} and od {od:.5g} mm.",
                    "The outside diameter is the larger one.",
                )
            )
        elif 2 * radius >= (od - inner) / 2 or 2 * radius > lengths["thickness"]:
            found.append(
                (
                    f"Expected an edge radius below half the thickness, got {radius:.5g} mm on "
                    f"{lengths['thickness']:.5g} mm.",
                    "It is how far the corner is rounded; measure it again.",
                )
            )
        elif 2 * flat >= (od - inner) / 2:
            found.append(
                (
                    f"Expected flats narrower than half the ring, got flat {flat:.5g} mm on a ring "
                    f"of {(od - inner) / 2:.5g} mm.",
                    "The flat is the radial width of one dressed edge; measure it again.",
                )
            )
    cone = _cone(lengths, "cone_height" in measured)
    if not missing and "at" in lengths and lengths["at"] >= DEEPEST * cone:
        found.append(
            (
                f"Expected at below {DEEPEST:g} of the cone height, got {lengths['at']:.5g} mm on "
                f"{cone:.5g} mm.",
                "It is how far the disc was pressed for its load; near flat a load tells nothing.",
            )
        )
    if found or od is None or inner is None:
        where = place(file, row.line, row.name)
        return [Problem(what, where, remedy) for what, remedy in found]
    thickness = lengths["thickness"]
    overall = "height" in lengths
    counted = sum("thickness" in one.lengths or one.height is not None for one in rows)
    return Disc(
        name=row.name,
        od_mm=od,
        id_mm=inner,
        thickness_mm=thickness,
        cone_height_mm=cone,
        edge=edge,
        flat_mm=flat,
        lot=row.words.get("lot", ""),
        note=row.words.get("note", ""),
        repeats=max(counted, 1),
        from_overall_height=overall,
        flat_assumed=assumed,
        line=row.line,
        edge_radius_mm=radius,
        load_n=lengths.get("load"),
        at_mm=lengths.get("at"),
        loads=sum("load" in one.lengths for one in rows),
        nominal=tuple(name for name in nominal if name not in measured),
        keep_with=row.words.get("keep_with", ""),
    )


def _cone(lengths: Mapping[str, float], measured: bool) -> float:
    """Cone height, as measured or as the overall height tells; nominal where neither was."""
    if measured and "height" in lengths:
        return lengths["height"] - lengths.get("thickness", 0.0)
    return lengths.get("cone_height", 0.0)


def _flat(edge: Edge, measured: float | None, defaults: DiscDefaults) -> tuple[float, bool]:
    """Return the width of the flat and whether it is assumed."""
    if edge == "sharp":
        return 0.0, False
    return (defaults.default_flat_mm, True) if measured is None else (measured, False)


def _flat_problems(edge: Edge, measured: float | None) -> list[tuple[str, str]]:
    if edge == "sharp" and measured:
        return [
            (
                f"Expected no flat on a sharp disc, got {measured:.5g} mm.",
                "Write dressed for its edge, or delete the flat.",
            )
        ]
    if edge == "dressed" and measured == 0:
        return [
            (
                "Expected flat > 0 on a dressed disc, got 0.",
                "Measure it, leave it empty to take the default of the job, or write sharp.",
            )
        ]
    return []
