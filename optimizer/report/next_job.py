"""What a bench taught of tools and hands, as lines for the next job."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.estimate.learn import Learned
from optimizer.estimate.repeats import taught
from optimizer.estimate.scale import EDGES, GAUGE, INSTRUMENT, REST
from optimizer.io.job.keys import keys_of, toml
from optimizer.match.workspace import Workspace

#: a factor on the declared sds that is told
LEAST_FACTOR = 1.3
#: readings from which one is worth writing down: three rounds of three shoes; a choice
FIRM = 9
#: what a job declares of each kind of uncertainty: section and field
DECLARED = {
    INSTRUMENT: (("instrument", "thickness_sd_mm"), ("instrument", "height_sd_mm")),
    REST: (("model", "disc_stiffness_sd"), ("instrument", "flat_sd_mm")),
    EDGES: (("model", "sharp_scatter"), ("model", "dressed_scatter")),
    GAUGE: (("gauge", "repeatability_n"), ("gauge", "travel_stop_mm")),
}


def next_job_words(work: Workspace, learned: Learned) -> str:
    """Say what the same person writes into the next job; nothing where all is as declared.

    Nothing either after few readings, in which luck would say as much.
    """
    if learned.evidence.count < FIRM:
        return ""
    tool, _ = taught(work.job.instrument, work.bag)
    declared = replace(work.job, instrument=tool)
    told: dict[str, list[str]] = {}
    for kind, fields in DECLARED.items():
        if abs(np.log(learned.factors[kind])) <= np.log(LEAST_FACTOR):
            continue
        for section, field in fields:
            key = next(key for key in keys_of(section) if key.field == field)
            written = key.spelled(work.job.units)
            held = getattr(getattr(declared, section), field)
            if held:
                value = held * learned.factors[kind] / key.spellings()[written]
                told.setdefault(section, []).append(
                    f"{written} = {toml(float(f'{value:.2g}'), 1.0)}"
                )
    if not told:
        return ""
    lines = (f"under [{section}] {', '.join(values)}" for section, values in told.items())
    return "  to begin the next job with what was learned here, write " + "; ".join(lines)
