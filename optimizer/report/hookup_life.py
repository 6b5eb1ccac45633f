"""How long a setup lasts, as readable text."""

from __future__ import annotations

from optimizer import text, wrapping
from optimizer.clutch.drift import MOST_RACES, Races
from optimizer.hookup.now import Engagement
from optimizer.hookup.powered import Lasting


def life_lines(now: Engagement, units: str) -> list[str]:
    """Wear by the race, set and relaxation, and the stresses that fatigue goes by."""
    found = now.lasting
    if found is None:
        return []
    lines = ["LIFE"]
    for said in (_races(found.races), _relaxed(found, now), _fatigue(found, units)):
        lines += wrapping.wrapped(said, "  ", "    ")
    return lines


def _races(found: Races | None) -> str:
    if found is None:
        return "wear: give drum_wear and lining_wear of one race under [life]"
    way = "later" if found.moved_rpm > 0 else "earlier"
    each = f"wear moves it by {found.rpm_per_race:+.1f} rpm a race"
    if found.races is None:
        if found.solid is not None:
            return f"{each}; a stack is pressed SOLID after {found.solid:.0f} races: stop before"
        return f"{each}: less than {abs(found.moved_rpm):.0f} rpm {way} in {MOST_RACES:.0f} races"
    high = "" if found.high is None else f" to {found.high:.0f}"
    said = (
        f"{each}: {abs(found.moved_rpm):.0f} rpm {way} after about {found.races:.0f} races "
        f"({found.low:.0f}{high}, two cases of three). Measure the travel again before"
    )
    return said + (
        "" if found.solid is None else f"; a stack is pressed SOLID after {found.solid:.0f} races"
    )


def _relaxed(found: Lasting, now: Engagement) -> str:
    if found.relaxed_rpm is None:
        return (
            "set and relaxation: no open table is at hand; give relaxation under [life] from your "
            "own readings of discs that ran"
        )
    lost = found.relaxed_rpm - now.hookup.mean_rpm
    return f"set and relaxation, by your figure: {found.relaxed_rpm:.0f} rpm ({lost:+.0f})"


def _fatigue(found: Lasting, units: str) -> str:
    said = (
        f"fatigue: the hardest worked disc swings between "
        f"{text.stress(found.lower_mpa, units)} at rest and "
        f"{text.stress(found.upper_mpa, units)} at the drum (tension at {found.point}), a range "
        f"of {text.stress(found.range_mpa, units)}"
    )
    if found.endured_mpa is None:
        return said + (
            "; read the standard's or the maker's diagram at these two stresses and give "
            "fatigue_range under [life], as no open table is at hand"
        )
    endured = text.stress(found.endured_mpa, units)
    share = found.endured_mpa / found.range_mpa if found.range_mpa > 0 else 99.0
    if share < 1:
        return said + f": MORE than the {endured} that you say they endure"
    said += f"; you say they endure {endured}, {share:.2f} times that"
    return said + (", little in hand for a diagram read by eye" if share < 1.1 else "")
