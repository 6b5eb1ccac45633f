"""From a table of measured discs to three stacks that push alike, cell by cell."""

# %% [markdown]
# From a table of measured discs to three stacks that push alike
#
# Run it in the folder of the project, cell by cell or as a whole. All discs are invented.

# %%
from pathlib import Path
from tempfile import mkdtemp

import numpy as np
import pandas as pd

from optimizer import face as es

here = Path(__file__).parent
folder = Path(mkdtemp())

# %% [markdown]
# ## Discs
#
# A bag is one row a disc. It may come from a spreadsheet (`pd.read_excel`), from a caliper that
# types like a keyboard, or, as here, be drawn at random around two lots.

# %%
rng = np.random.default_rng(7)
count = 40
discs = pd.DataFrame(
    {
        "disc": [f"T{k:02d}" for k in range(1, count + 1)],
        "od_mm": 20.0,
        "id_mm": 10.2,
        "thickness_mm": (0.905 + rng.normal(0, 0.008, count)).round(3),
        "cone_height_mm": (0.478 + rng.normal(0, 0.012, count)).round(3),
        "edge": np.where(np.arange(count) < 24, "dressed", "sharp"),
        "flat_mm": np.where(np.arange(count) < 24, 0.09, np.nan),
    }
)

# %%
job = es.read_job(here / "kart_mm" / "job.toml")
bag = es.read_bag(discs, job)
print(f"{len(bag.discs)} discs, target {job.target.load_n} N")
for warning in bag.warnings:
    print(warning)

# %% [markdown]
# ## Match
#
# Which disc goes where, so that all three stacks carry the target load at the working travel.

# %%
found = es.match(job, bag)
print(found.summary())

# %%
placed = found.to_frame()
placed.merge(discs, on="disc").groupby("shoe")[["thickness_mm", "cone_height_mm"]].mean()

# %% [markdown]
# ## Load curve
#
# What the first stack pushes from rest to a worn drum, computed from its discs alone.

# %%
first = found.plan.sets[0].stacks[0]
words = " ".join("+".join(packet) for packet in first.packets)
curve = es.load_curve(job, words, first.shims_mm, first.shoe, bag)
print(curve.to_frame().round(2).to_string(index=False))

# %% [markdown]
# ## Keep it
#
# The plan, the card and a build sheet to print, in a new folder. At the gauge go on with
# `es.bench(job_file, plan_file, readings_file)`: it learns and says what to change next.

# %%
for path in found.save(folder / "first"):
    print(path.name)

# %% [markdown]
# ## A picture

# %%
import matplotlib.pyplot as plt  # noqa: E402 - a cell of its own

figure, axes = plt.subplots()
for stack in found.plan.sets[0].stacks:
    words = " ".join("+".join(packet) for packet in stack.packets)
    each = es.load_curve(job, words, stack.shims_mm, stack.shoe, bag).to_frame()
    axes.plot(each.travel_mm, each.load_n, label=f"shoe {stack.shoe}")
axes.set(xlabel="travel, mm", ylabel="load, N")
axes.legend()
figure.savefig(folder / "curves.svg")
