"""A hidden bench's job and bag as the files a user would have."""

from __future__ import annotations

from pathlib import Path

from optimizer.units import MM_PER_IN, N_PER_LBF
from tests.simulator import truth as bench
from tests.simulator.setup import SERIES, SHOES, nominal_load_n
from tests.simulator.truth import Truth


def write_job(folder: Path, truth: Truth) -> Path:
    """Write job.toml and bag.csv; return the job file."""
    world = truth.world
    job = folder / "job.toml"
    job.write_text(
        f"""[bag]
file = "bag.csv"
[clutch]
shoes = {SHOES}
travel_mm = {bench.TRAVEL_MM}
worn_travel_mm = {bench.TRAVEL_MM}
travel_sd_mm = {world.place_sd_mm}
[datum]
seating_load_lbf = {bench.SEATING_N / N_PER_LBF:g}
[target]
load_lbf = {nominal_load_n(world) / N_PER_LBF:.3f}
load_tolerance_lbf = 10
spread_tolerance_lbf = 2
[stack]
packet_sizes = [1]
discs = [{SERIES}, {SERIES}]
[instrument]
thickness_sd_mm = {world.instrument_sd_mm}
height_sd_mm = {world.instrument_sd_mm}
flat_sd_mm = {world.flat_sd_mm}
[gauge]
resolution_lbf = 1
repeatability_lbf = {bench.NOISE_N / N_PER_LBF:g}
travel_stop_mm = {bench.TRAVEL_STOP_MM}
reads = "in the clutch"
""",
        encoding="utf-8",
    )
    edge, flat = ("sharp", "") if world.sharp else ("dressed", f"{world.flat_mm / MM_PER_IN:.6f}")
    rows = ["disc,od_in,id_in,thickness_in,cone_height_in,edge,flat_in,note"]
    rows += [
        f"D{i:02d},{bench.OD_MM / MM_PER_IN:.6f},{bench.ID_MM / MM_PER_IN:.6f},"
        f"{t / MM_PER_IN:.6f},{h / MM_PER_IN:.6f},{edge},{flat},invented"
        for i, (t, h) in enumerate(zip(truth.measured_t_mm, truth.measured_h_mm, strict=True))
    ]
    (folder / "bag.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return job
