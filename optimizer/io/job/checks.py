"""What must hold between the keys of a job: one of two, order, and enough data."""

from __future__ import annotations

from optimizer.io.job.keys import ARMS, ARMS_APART, DRUM_APART, PIVOT, TURNING
from optimizer.io.job.section import Section
from optimizer.io.job.source import Source
from optimizer.io.job.words import show
from optimizer.units import TO_INSIDE


def check_job(source: Source, sections: dict[str, Section], shoes: list[Section]) -> None:
    """Report every disagreement between keys; values already refused are left out."""
    _exactly_one(source, sections["datum"], "seating_load", "installed_length")
    _exactly_one(source, sections["target"], "load", "engagement_rpm")
    _loads(source, sections)
    _stack(source, sections)
    _friction(source, sections)
    disc = sections["disc"]
    if disc["od"] and disc["id"] and disc["id"] >= disc["od"]:
        source.add(
            f"Expected id < od, got {_shown(disc, 'id')} and {_shown(disc, 'od')}.",
            "The outside diameter is the larger one.",
            *disc.at("id"),
        )
    for shoe in {shoe.name: shoe for shoe in shoes}.values():
        _shoe(source, sections, shoe)


def job_notes(
    source: Source, sections: dict[str, Section], shoes: list[Section], tables: int
) -> tuple[str, ...]:
    """Say what stands in a job and has no effect, or another than it may seem.

    `tables` is how many [[clutch.shoe]] tables there are.
    """
    notes = []
    datum = sections["datum"]
    deep = [shoe for shoe in shoes if "seat_depth" in shoe.written and shoe["seat_depth"]]
    if deep and "installed_length" not in datum.written:
        notes.append(
            f"{source.where(*deep[0].at('seat_depth'))}: "
            f"{_shown(deep[0], 'seat_depth')} has no effect, as [datum] "
            f"{datum.spelled('seating_load')} zeroes the travel at a load, whatever the depth of "
            "the seat; with [datum] installed_length it would count."
        )
    for shoe in {shoe.name: shoe for shoe in shoes}.values():
        given = [name for name in (*PIVOT, "pivot_angle") if name in shoe.written]
        if given and shoe["shoe_type"] not in TURNING:
            notes.append(
                f"{source.where(*shoe.at(given[0]))}: {', '.join(given)} have no "
                'effect without shoe_type = "leading" or "trailing".'
            )
    if 0 < tables < len(shoes):
        own = "shoe 1" if tables == 1 else f"shoes 1 to {tables}"
        others = ", ".join(str(shoe) for shoe in range(tables + 1, len(shoes) + 1))
        notes.append(
            f"{source.where('clutch.shoe 1')}: {tables} [[clutch.shoe]] "
            f"{'table' if tables == 1 else 'tables'} for {len(shoes)} shoes: what stands there is "
            f"of {own} alone, and shoe {others} is as [clutch] says."
        )
    return tuple(notes)


def _shown(section: Section, name: str) -> str:
    """Return "travel_in = 0.06": a length or load in the unit the user wrote it in."""
    spelled = section.spelled(name)
    return f"{spelled} = {section[name] / TO_INSIDE[spelled.rpartition('_')[2]]:.6g}"


def _exactly_one(source: Source, section: Section, first: str, second: str) -> None:
    given = [section.written[name] for name in (first, second) if name in section.written]
    if len(given) == 2:
        source.add(
            f"Expected exactly one of {first} and {second}, got {given[0]} and {given[1]}.",
            "Delete one of the two.",
            section.name,
            given[1],
        )
    elif not given:
        source.add(
            f"Expected exactly one of {first} and {second}, got none.",
            f"Add one of them under [{section.name}], with its unit in the key.",
            section.name,
        )


def _loads(source: Source, sections: dict[str, Section]) -> None:
    datum, target = sections["datum"], sections["target"]
    seating, load = datum["seating_load"], target["load"]
    if seating and load and seating >= load:
        source.add(
            f"Expected a seating load below the target load, got "
            f"{_shown(datum, 'seating_load')} and {_shown(target, 'load')}.",
            "The seating load is the small one, at which the travel is zeroed.",
            *datum.at("seating_load"),
        )


def _stack(source: Source, sections: dict[str, Section]) -> None:
    stack = sections["stack"]
    if stack["shims"] and "installed_length" not in sections["datum"].written:
        source.add(
            f"Expected no shims with a seating load, got {len(stack['shims'])}.",
            "A shim changes nothing where travel is zeroed at a load: delete the shims, "
            "or give [datum] installed_length.",
            *stack.at("shims"),
        )
    leave = set(stack["leave"] or ())
    wanted = (("use", [stack["use"] or ()]), ("together", stack["together"] or ()))
    for name, groups in wanted:
        if both := sorted(leave.intersection(*[{d for group in groups for d in group}])):
            source.add(
                f"Expected a disc under leave or under {name}, got {show(both[0])} under both.",
                "Delete it from one of the two.",
                "stack",
                name,
            )
    named = [disc for group in stack["together"] or () for disc in group]
    for disc in sorted({disc for disc in named if named.count(disc) > 1}):
        source.add(
            f"Expected each disc in one group of together, got {show(disc)} in more.",
            "Join the groups.",
            "stack",
            "together",
        )


def _friction(source: Source, sections: dict[str, Section]) -> None:
    friction, sizes = sections["friction"], sections["stack"]["packet_sizes"]
    between, edge = friction["between"], friction["edge"]
    if between is None or edge is None or not sizes:
        return
    left = 1.0 - between * (sizes[-1] - 1) - edge
    if left <= 0.0:
        source.add(
            f"Expected 1 - between x (discs nested - 1) - edge > 0, got {left:.3g} for packets "
            f"of {sizes[-1]} (between {between:g}, edge {edge:g}).",
            "Usual values are 0.002 to 0.03 between discs and 0.01 to 0.05 at the edges.",
            *friction.at("between"),
        )


def _shoe(source: Source, sections: dict[str, Section], shoe: Section) -> None:
    """Check one shoe, its overrides already merged over [clutch]."""
    travel, worn = shoe["travel"], shoe["worn_travel"]
    if travel and worn and "worn_travel" in shoe.written and worn < travel:
        source.add(
            f"Expected worn travel >= travel, got {_shown(shoe, 'worn_travel')} and "
            f"{_shown(shoe, 'travel')}.",
            "Wear adds to the travel; give worn_travel for this shoe, or delete it.",
            *shoe.at("worn_travel"),
        )
    centre, drum = shoe["cg_radius"], shoe["drum_radius"]
    if centre and drum and not centre < drum <= DRUM_APART * centre:
        source.add(
            "Expected the centre of gravity of a shoe inside the drum and not near the axis, got "
            f"{_shown(shoe, 'cg_radius')} and {_shown(shoe, 'drum_radius')}.",
            "Measure both from the axis, radius and not diameter; check their units.",
            *shoe.at("cg_radius"),
        )
    if shoe["shoe_type"] in TURNING:
        _pivot(source, shoe)
    else:
        _arms(source, shoe)
    if {"load", "engagement_rpm"} & sections["target"].written.keys() != {"engagement_rpm"}:
        return
    if lacking := [key for key in ("shoe_mass", "cg_radius") if key not in shoe.written]:
        source.add(
            f"Expected {' and '.join(lacking)} with [target] engagement_rpm, found none.",
            "Add shoe_mass_g and cg_radius_mm or cg_radius_in under [clutch] or for each shoe, "
            "or give a target load.",
            shoe.name,
        )


def _pivot(source: Source, shoe: Section) -> None:
    """Check that a pivoted shoe gives all of its geometry, and one that fits the drum."""
    needed = (*PIVOT, "arm_stack", "drum_radius")
    if lacking := [name for name in needed if name not in shoe.written]:
        source.add(
            f"Expected {', '.join(needed)} of a {shoe['shoe_type']} shoe, found no "
            f"{' and no '.join(lacking)}.",
            "Add it, lengths with their unit in the key, or delete shoe_type.",
            *shoe.at("shoe_type"),
        )
        return
    for arm in ("arm_centre", "arm_lining"):
        if arm in shoe.written:
            source.add(
                f"Expected no {arm} of a {shoe['shoe_type']} shoe: it follows from the pivot.",
                "Delete it.",
                *shoe.at(arm),
            )
    if not all(shoe[name] is not None for name in needed):
        return  # told already
    if shoe["heel_angle"] >= shoe["toe_angle"]:
        source.add(
            f"Expected heel_angle < toe_angle, got {shoe['heel_angle']:g} and "
            f"{shoe['toe_angle']:g}.",
            "The heel is the end of the lining next to the pivot.",
            shoe.name,
            "heel_angle",
        )
    if shoe["pivot_radius"] >= shoe["drum_radius"]:
        source.add(
            f"Expected the pivot inside the drum, got {_shown(shoe, 'pivot_radius')} and "
            f"{_shown(shoe, 'drum_radius')}.",
            "Measure both from the axis.",
            *shoe.at("pivot_radius"),
        )


def _arms(source: Source, shoe: Section) -> None:
    """Check that the arms of a shoe are all given or none, and of one scale."""
    given = [arm for arm in ARMS if arm in shoe.written]
    if not given:
        return
    if lacking := [arm for arm in ARMS if arm not in shoe.written]:
        source.add(
            f"Expected {', '.join(ARMS)} or none of them, found no {' and no '.join(lacking)}.",
            "Add it, with its unit in the key (_mm or _in), or delete the other arms.",
            *shoe.at(given[0]),
        )
        return
    if not all(shoe[arm] for arm in ARMS):
        return  # told already
    low, _, high = sorted(ARMS, key=lambda arm: shoe[arm])
    if shoe[high] > ARMS_APART * shoe[low]:
        source.add(
            f"Expected arms within {ARMS_APART:g} times of each other, got "
            f"{_shown(shoe, low)} and {_shown(shoe, high)}.",
            "Check their units.",
            *shoe.at(high),
        )
