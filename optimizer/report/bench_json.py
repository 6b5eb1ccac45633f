"""The bench step as one JSON value."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from optimizer.bench.step import Step
from optimizer.estimate.doubts import Doubt
from optimizer.estimate.words import KIND_WORDS
from optimizer.model.stack import Stack
from optimizer.report.advice import move_words
from optimizer.report.bench_card import shifts_um

SCHEMA = "evenstack.bench/1"


def bench_json(
    step: Step, warnings: tuple[str, ...], doubts: tuple[Doubt, ...] = ()
) -> dict[str, Any]:
    """Return what the readings told and what to do next; loads in N."""
    learned, advice, verdict = step.learned, step.advice, step.verdict
    shift, sd = shifts_um(step)
    now = advice.loads
    load_sd = np.sqrt(np.diag(now.covariance_n2))
    return {
        "schema": SCHEMA,
        "readings": learned.evidence.count,
        "load_factor": learned.load_factor,
        "load_factor_sd": learned.load_factor_sd,
        "discs": [
            {"disc": name, "shift_um": float(a), "sd_um": float(b)}
            for name, a, b in zip(learned.rig.belief.names, shift, sd, strict=True)
        ],
        "suspects": [asdict(suspect) for suspect in verdict.suspects],
        "contradiction": verdict.contradiction,
        "fit": verdict.fit,
        "repeatability_n": verdict.repeatability_n,
        "scatter_factor": verdict.scatter_factor,
        "scatter_told": verdict.scatter_told,
        "sd_factors": dict(zip(KIND_WORDS, learned.factors.tolist(), strict=True)),
        "seating_drop": {str(shoe): drop for shoe, drop in verdict.seating_drop.items()},
        "stacks": [
            {
                "shoe": s + 1,
                "packets": [list(packet) for packet in packs],
                "load_n": float(now.mean_n[s]),
                "sd_n": float(load_sd[s]),
                "read": s + 1 not in step.unread,
            }
            for s, packs in enumerate(step.stacks)
        ],
        "chance_now": advice.chance_now,
        "chance_on_target": advice.chance_on_target,
        "chance_if_apart": step.chance_if_apart,
        "chance_in_clutch": step.chance_in_clutch,
        "chance_reread": advice.chance_reread,
        "chance_then": advice.chance_then,
        "advice": advice.kind,
        "stopped": step.next.stopped,
        "moves": [
            {
                "kind": "swap" if move.exchanges else "rebuild",
                "words": move_words(move),
                "chance": move.chance,
                "chance_on_target": move.on_target,
                "discs_moved": move.discs_moved,
                "minutes": move.minutes,
                "minutes_to_come": move.to_come,
                "exchanges": [asdict(exchange) for exchange in move.exchanges],
            }
            for move in advice.moves
        ],
        "left_out": [
            {
                "line": doubt.reading.line,
                "shoe": doubt.reading.shoe,
                "kind": doubt.reading.kind,
                "load_n": doubt.reading.load_n,
                "expected_n": doubt.expected.load_n,
                "expected_sd_n": doubt.expected.sd_n,
                "slip": doubt.slip,
                "offered_n": doubt.offered_n,
            }
            for doubt in doubts
        ],
        "not_borne_out": [
            {"round": reading.round, "shoe": reading.shoe, "load_n": reading.load_n}
            for reading in learned.evidence.not_borne_out
        ],
        "warnings": list(warnings),
        "next": asdict(step.next),
    }


def groups_json(groups: tuple[Stack, ...], travel_mm: float, chance: float) -> dict[str, Any]:
    """Return the groups to gauge, and what they promise."""
    return {
        "schema": SCHEMA,
        "groups": [{"discs": [packet[0] for packet in group]} for group in groups],
        "travel_mm": travel_mm,
        "chance_promised": chance,
    }
