"""What looks odd in a bag as a whole: warnings, and names the job asks for in vain."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from operator import attrgetter
from statistics import NormalDist, median

from optimizer import text
from optimizer.errors import Problem, did_you_mean
from optimizer.io.bag.rows import place
from optimizer.model.bag import Disc, Repeats
from optimizer.model.job import Instrument, Job, Units
from optimizer.model.sizes import sizes

#: a lot smaller than this says nothing about what is usual in it
_SMALLEST_LOT = 5
_OUTLIER_SDS = 3.0
#: share of a normal lot beyond so many sds, on either side
TWO_TAILS = 2 * NormalDist().cdf(-_OUTLIER_SDS)
#: where a greater share stands out the discs are a mixture of sizes, not one lot
_MIXED = 0.25
#: median absolute deviation to standard deviation, normal distribution
_MAD_TO_SD = 1.4826
#: the spread of a lot is taken as no less than these shares of the median, so that a
#: lot of nearly equal discs gives no false warnings over a few micrometres
_THICKNESS_FLOOR, _CONE_FLOOR = 0.004, 0.015


def bag_warnings(
    file: str, discs: Sequence[Disc], instrument: Instrument, units: Units
) -> list[str]:
    """Return one line for each thing worth a second look, lengths in the units of the file."""
    return [
        *_assumed_flats(file, discs, units),
        *_names_alike(file, discs),
        *_steep(file, discs),
        *_outliers(file, discs, "thickness", instrument.thickness_sd_mm, _THICKNESS_FLOOR, units),
        *_outliers(file, discs, "cone height", instrument.height_sd_mm, _CONE_FLOOR, units),
    ]


def repeats_odd(
    file: str, repeats: tuple[Repeats, Repeats], instrument: Instrument, units: Units
) -> list[str]:
    """Return a line for each length whose repeats differ otherwise than the job declares.

    A chi-square beyond three standard deviations, by its cube root (Wilson and Hilferty, Proc.
    Nat. Acad. Sci. 17 (1931) 684).
    """
    said = []
    declared = instrument.thickness_variance_mm2, instrument.height_variance_mm2
    for what, seen, variance in zip(("thickness", "height"), repeats, declared, strict=True):
        if not seen.degrees or not variance:
            continue
        part = 2 / (9 * seen.degrees)
        root = (seen.square_mm2 / (variance * seen.degrees)) ** (1 / 3)
        if abs(root - (1 - part)) > _OUTLIER_SDS * math.sqrt(part):
            sd = math.sqrt(seen.square_mm2 / seen.degrees)
            said.append(
                f"{file}: measured again, {what} differs by {text.length(sd, units)} (sd); the job "
                f"declares {text.length(math.sqrt(variance), units)}. Answers go by what both "
                f"tell: set {what}_sd_{units} under [instrument]."
            )
    return said


def _assumed_flats(file: str, discs: Sequence[Disc], units: Units) -> list[str]:
    assumed = [disc for disc in discs if disc.flat_assumed]
    if not assumed:
        return []
    width = assumed[0].flat_mm
    return [
        f"{file}: {len(assumed)} dressed {'disc has' if len(assumed) == 1 else 'discs have'} no "
        f"measured flat; {text.length(width, units)} is assumed. "
        "A width that is off changes every load."
    ]


def _names_alike(file: str, discs: Sequence[Disc]) -> list[str]:
    seen: dict[str, Disc] = {}
    alike = []
    for disc in discs:
        first = seen.setdefault(disc.name.casefold(), disc)
        if first is not disc:
            alike.append(
                f"{place(file, disc.line, disc.name)}: differs from {first.name} on line "
                f"{first.line} in capitals only; taken as another disc."
            )
    return alike


def _steep(file: str, discs: Sequence[Disc]) -> list[str]:
    return [
        f"{place(file, disc.line, disc.name)}: cone height / thickness is "
        f"{disc.cone_height_mm / disc.thickness_mm:.3g}; from 1.414 on the load falls again with "
        "deflection and the disc may snap."
        for disc in discs
        if disc.cone_height_mm >= math.sqrt(2) * disc.thickness_mm
    ]


def _outliers(
    file: str, discs: Sequence[Disc], what: str, sd_mm: float, floor: float, units: Units
) -> list[str]:
    """Return a warning for each disc beyond 3 robust sds of its lot.

    Median and median absolute deviation, so that the outlier does not hide itself.
    Discs of one lot but of another nominal size count as another lot, and so do those of another
    edge where there are enough of them: dressing takes away height.
    """
    value = attrgetter(f"{what.replace(' ', '_')}_mm")
    found = []
    for judged, members in _lots(discs):
        if len(members) < _SMALLEST_LOT:
            continue
        middle = median(value(disc) for disc in members)
        spread = _MAD_TO_SD * median(abs(value(disc) - middle) for disc in members)
        spread = max(spread, sd_mm, floor * middle)
        far = [d for d in judged if abs(value(d) - middle) > _OUTLIER_SDS * spread]
        if len(far) > _MIXED * len(members):
            continue
        usual = f"median {text.length(middle, units)}"
        named = _beyond_chance(len(members)) * spread
        by_chance = [d for d in far if abs(value(d) - middle) <= named]
        if by_chance:
            found.append(_by_chance(file, what, len(by_chance), members, units, named))
            far = [d for d in far if abs(value(d) - middle) > named]
        found += [
            f"{place(file, disc.line, disc.name)}: {what} {text.length(value(disc), units)} is "
            f"{abs(value(disc) - middle) / spread:.1f} sd from "
            f"{f'lot {disc.lot}' if disc.lot else 'the others'} ({usual}); measure it again."
            for disc in far
        ]
    return found


def _lots(discs: Sequence[Disc]) -> Iterator[tuple[list[Disc], list[Disc]]]:
    """Yield discs with the lot they are judged by."""
    lots: dict[tuple[str, int], dict[str, list[Disc]]] = {}
    size = sizes([d.od_mm for d in discs], [d.id_mm for d in discs]).tolist()
    for disc, number in zip(discs, size, strict=True):
        lots.setdefault((disc.lot, number), {}).setdefault(disc.edge, []).append(disc)
    for by_edge in lots.values():
        whole = [disc for members in by_edge.values() for disc in members]
        for members in by_edge.values():
            yield members, members if len(members) >= _SMALLEST_LOT else whole


def _beyond_chance(count: int) -> float:
    """Sds beyond which a disc of a lot is named one by one.

    3 for a lot of which not one disc is expected beyond that; in a larger one so many that a
    normal lot has such a disc in one of twenty only.
    """
    if count * TWO_TAILS < 1:
        return _OUTLIER_SDS
    return -NormalDist().inv_cdf(1 / (2 * 20 * count))


def _by_chance(
    file: str, what: str, found: int, members: Sequence[Disc], units: Units, named_mm: float
) -> str:
    lot = f"lot {members[0].lot}" if members[0].lot else "the others"
    return (
        f"{file}: {found} of {len(members)} discs are more than 3 sd from {lot} in {what}, up to "
        f"{text.length(named_mm, units)}; in a lot that scatters as a normal one does about "
        f"{len(members) * TWO_TAILS:.1f} are so by chance alone."
    )


def names_not_in_bag(job: Job, names: Sequence[str]) -> Iterator[Problem]:
    """Report discs the job names under use, leave or together that the bag lacks."""
    rules = job.stack
    asked = {
        "use": rules.use,
        "leave": rules.leave,
        "together": tuple(name for group in rules.together for name in group),
    }
    known = set(names)
    for key, wanted in asked.items():
        for name in dict.fromkeys(name for name in wanted if name not in known):
            yield Problem(
                f'Expected a disc of the bag, got "{name}".',
                f"{job.path.name}, [stack] {key}",
                did_you_mean(name, names, "Correct the name or delete it."),
            )
