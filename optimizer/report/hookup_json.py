"""Engagement and ways to another hookup as one JSON document."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from optimizer.hookup.now import Engagement
from optimizer.hookup.retarget import Retarget
from optimizer.hookup.way import HookupWay
from optimizer.io.documents import document, plain, written

DIGITS = 4

#: schema of ways to another hookup
WAYS = "evenstack.retarget/1"


def engagement_json(now: Engagement, warnings: tuple[str, ...]) -> str:
    """Write what `engage` found: loads in N, lengths in mm, torque in N m."""
    drifts = [
        {**asdict(drift), "mean_rpm": drift.mean_rpm, "band_rpm": drift.band_rpm}
        for drift in now.drifts
    ]
    return document(
        {
            "schema": "evenstack.engage/1",
            **asdict(now),
            "mean_rpm": now.hookup.mean_rpm,
            "rpm_per_newton": now.hookup.rpm_per_newton,
            "drifts": drifts,
            "warnings": warnings,
        },
        DIGITS,
        gaps=True,
    )


def retarget_json(found: Retarget, warnings: tuple[str, ...]) -> str:
    """Write the ways to a new engagement speed."""
    return written(retarget_values(found, warnings))


def retarget_values(found: Retarget, warnings: tuple[str, ...]) -> dict[str, Any]:
    """Return the ways to a new engagement speed: loads in N, lengths in mm, stress in MPa."""
    now = found.now.hookup
    return plain(
        {
            "schema": WAYS,
            "now": {"mean_rpm": now.mean_rpm, "shared": found.now.shared, **asdict(now)},
            "today_mm": found.today_mm,
            "target_rpm": found.target_rpm,
            "target_n": found.target_n,
            "band_limit_rpm": found.band_limit_rpm,
            "reached": found.reached,
            "ways": [_way(one, found) for one in found.ways],
            "reasons": found.reasons,
            "nearest": None if found.nearest is None else _way(found.nearest, found),
            "workshop": [_way(one, found) for one in found.workshop],
            "buy": found.buy,
            "sold": [asdict(one) for one in found.sold],
            "ranges": [asdict(one) for one in found.ranges],
            "stopped": found.stopped,
            "warnings": warnings,
        },
        DIGITS,
        gaps=True,
    )


def _way(one: HookupWay, found: Retarget) -> dict[str, Any]:
    value = asdict(one)
    del value["answer"]  # the same stacks by number; `stacks` has them by name
    value["number"] = 1 + next(k for k, each in enumerate(found.numbered) if each is one)
    return {
        **value,
        "mean_rpm": one.hookup.mean_rpm,
        "loose_at_rest": one.loose,
        "off_rpm": one.misses_rpm(found.target_rpm),
        "height_change_mm": None if found.today_mm is None else one.height_mm - found.today_mm,
    }
