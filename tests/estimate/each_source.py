"""What each source of uncertainty costs: `python -m tests.estimate.each_source` draws the picture.

The chance that the three stacks of each shipped example are truly alike, and what it would be
were one source of uncertainty known exactly. Written to examples/what_is_in_doubt.svg.
"""

from __future__ import annotations

from pathlib import Path

import matplotlib
import numpy as np

from optimizer.control import Limits
from optimizer.estimate.loads import SOURCES, load_uncertainty
from optimizer.estimate.probability import spread_within
from optimizer.match.solve import match
from optimizer.match.workspace import measured

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("kart_mm", "bench_in", "unequal_shoes")


def chances(name: str) -> tuple[float, dict[str, float]]:
    """Chance of an example with every uncertainty, and with each one away."""
    work = measured(EXAMPLES / name / "job.toml")
    task, width = work.task, work.job.target.spread_tolerance_n
    answer = match(task, Limits()).answer
    uncertainty = load_uncertainty(task, answer.stacks, answer.work_n)
    off = (answer.work_n + uncertainty.shift_n - task.target_n) * task.weight

    def within(parts: np.ndarray) -> float:
        return float(spread_within(off, np.diag(parts.sum(1) * task.weight**2), width))

    whole = uncertainty.parts_n2
    kept = {s: np.delete(whole, k, axis=1) for k, s in enumerate(SOURCES) if whole[:, k].any()}
    return within(whole), {source: within(parts) for source, parts in kept.items()}


def draw(path: Path) -> None:
    """Draw one row of bars for each example."""
    matplotlib.use("svg")
    from matplotlib import pyplot

    matplotlib.rcParams.update({"svg.hashsalt": "evenstack", "font.size": 9})
    figure, axes = pyplot.subplots(len(NAMES), 1, figsize=(6, 6.4), layout="constrained")
    for axis, name in zip(axes, NAMES, strict=True):
        now, without = chances(name)
        best = dict(sorted(without.items(), key=lambda entry: entry[1]))
        axis.barh(list(best), [100 * v for v in best.values()], color="0.75", edgecolor="0.3")
        axis.axvline(100 * now, color="0.1")
        axis.set_title(
            f"{name}: {100 * now:.0f} % as it is, and without the uncertainty of ...", loc="left"
        )
        axis.set_xlim(0, 60)
    axes[-1].set_xlabel("chance in per cent that the stacks are truly within the tolerance")
    figure.savefig(path, metadata={"Date": None})


if __name__ == "__main__":
    draw(EXAMPLES / "what_is_in_doubt.svg")
    for example in NAMES:
        print(example, chances(example))
