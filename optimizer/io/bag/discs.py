"""From the measurements of one disc to the disc itself, with the defaults of the job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from optimizer.errors import Problem
from optimizer.io.bag.rows import Measurement, place
from optimizer.model.bag import Disc, Edge
from optimizer.model.job import DiscDefaults, Units
from optimizer.units import TO_INSIDE

#: share of the cone height up to which a load of the disc alone is taken
DEEPEST = 0.9
#: what is wrong, and the remedy
Wrong = tuple[str, str]


def make_disc(
    file: str,
    row: Measurement,
    rows: Sequence[Measurement],
    defaults: DiscDefaults,
    units: Units,
) -> Disc | list[Problem]:
    """Return the disc of an averaged measurement of some rows, or everything wrong with it.

    Lengths are named in the `units` of the file.

    Whether its heights make sense is left to `optimizer.io.bag.slips`, which sees the
    whole column.
    """
    lengths = dict(row.lengths)
    measured = {"thickness"} if "thickness" in lengths else set()
    measured |= {"cone_height"} if row.height is not None else set()
    nominal = {"thickness": defaults.thickness_mm, "cone_height": defaults.cone_height_mm}
    given = {"od": defaults.od_mm, "id": defaults.id_mm}
    for name, value in (nominal | given).items():
        if name not in measured and value is not None:
            lengths.setdefault(name, value)
    edge: Edge = "dressed" if row.words["edge"] == "dressed" else "sharp"
    flat, assumed = _flat(edge, lengths.get("flat"), defaults)
    cone = _cone(lengths, "cone_height" in measured)
    lacking = [name for name in nominal if name not in lengths and name not in measured]
    wrong = [*_edge_problems(edge, lengths, units), *_lacking(lengths, lacking)]
    if not lacking:
        wrong += _size_problems(lengths, flat, cone, units)
    if wrong:
        where = place(file, row.line, row.name)
        return [Problem(what, where, remedy, remedy) for what, remedy in wrong]
    counted = sum("thickness" in one.lengths or one.height is not None for one in rows)
    return Disc(
        name=row.name,
        od_mm=lengths["od"],
        id_mm=lengths["id"],
        thickness_mm=lengths["thickness"],
        cone_height_mm=cone,
        edge=edge,
        flat_mm=flat,
        lot=row.words.get("lot", ""),
        note=row.words.get("note", ""),
        repeats=max(counted, 1),
        from_overall_height="height" in lengths,
        flat_assumed=assumed,
        line=row.line,
        edge_radius_mm=lengths.get("edge_radius", 0.0),
        load_n=lengths.get("load"),
        at_mm=lengths.get("at"),
        loads=sum("load" in one.lengths for one in rows),
        nominal=tuple(name for name in nominal if name not in measured),
        keep_with=row.words.get("keep_with", ""),
    )


def _lacking(lengths: Mapping[str, float], nominal: Sequence[str]) -> Iterator[Wrong]:
    """Say which lengths a disc needs and has neither measured nor from the job."""
    for name in ("od", "id"):
        if name not in lengths:
            yield (
                f"Expected a number for {name}, found none.",
                f"Fill it in, or set [disc] {name}_mm or {name}_in in the job.",
            )
    for name in nominal:
        yield (
            f"Expected a number for {name.replace('_', ' ')}, found none in any row of the disc.",
            f"Measure it, or give its nominal value as [disc] {name}_mm or {name}_in in the job.",
        )


def _size_problems(
    lengths: Mapping[str, float], flat: float, cone: float, units: Units
) -> Iterator[Wrong]:
    """Say which lengths of a disc cannot be together."""
    radius, thickness = lengths.get("edge_radius", 0.0), lengths["thickness"]
    if "od" in lengths and "id" in lengths:
        od, inner = lengths["od"], lengths["id"]
        ring = (od - inner) / 2
        if inner >= od:
            yield (
                f"Expected id < od, got id {_said(inner, units)} and od {_said(od, units)}.",
                "The outside diameter is the larger one.",
            )
        elif 2 * radius >= ring or 2 * radius > thickness:
            yield (
                f"Expected an edge radius below half the thickness, got {_said(radius, units)} on "
                f"{_said(thickness, units)}.",
                "It is how far the corner is rounded; measure it again.",
            )
        elif 2 * flat >= ring:
            yield (
                f"Expected flats narrower than half the ring, got flat {_said(flat, units)} on a "
                f"ring of {_said(ring, units)}.",
                "The flat is the radial width of one dressed edge; measure it again.",
            )
    if "at" in lengths and lengths["at"] >= DEEPEST * cone:
        yield (
            f"Expected at below {DEEPEST:g} of the cone height, got "
            f"{_said(lengths['at'], units)} on {_said(cone, units)}.",
            "It is how far the disc was pressed for its load; near flat a load tells nothing.",
        )


def _said(mm: float, units: Units) -> str:
    """A length as it stands in the file, with its unit."""
    return f"{mm / TO_INSIDE[units]:.5g} {units}"


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


def _edge_problems(edge: Edge, lengths: Mapping[str, float], units: Units) -> Iterator[Wrong]:
    """Say what does not go with the edge of a disc."""
    flat, radius = lengths.get("flat"), lengths.get("edge_radius", 0.0)
    if edge == "sharp" and flat:
        yield (
            f"Expected no flat on a sharp disc, got {_said(flat, units)}.",
            "Write dressed for its edge, or delete the flat.",
        )
    if edge == "dressed" and flat == 0:
        yield (
            "Expected flat > 0 on a dressed disc, got 0.",
            "Measure it, leave it empty to take the default of the job, or write sharp.",
        )
    if edge == "dressed" and radius:
        yield (
            f"Expected no edge radius on a dressed disc, got {_said(radius, units)}.",
            "Its load acts on the flat: delete the radius, or write sharp.",
        )
