"""The rounded corners of sharp discs."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.estimate.loads import SOURCES, load_uncertainty
from optimizer.estimate.prior import believe
from optimizer.estimate.problem import pose
from optimizer.mechanics.disc import discs, lever_ratio
from optimizer.model.bag import Disc
from tests.bags import plain_job, seeded_bag

OD, BORE, THICK, CONE = 20.0, 10.2, 0.9, 0.5


def contact_lever(radius):
    """Distance, along the radius, of the two circles that flat plates touch.

    The section of a ring, its corners rounded by arcs, is tilted by the cone angle; the plates
    touch its lowest point below and its highest point above. Geometry only, as in Leininger et
    al., Materials 15 (2022) 1954, where edge radii move the load circles.
    """
    width = (OD - BORE) / 2
    angle = np.arcsin(CONE / width)
    corners = np.array([(x, y) for x in (radius, width - radius) for y in (radius, THICK - radius)])
    turn = np.linspace(0, 2 * np.pi, 200_001)
    around = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points = (corners[:, None] + around).reshape(-1, 2)
    tilt = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    x, y = tilt @ points.T
    return x[y.argmin()] - x[y.argmax()]


@pytest.mark.parametrize("radius", [0.05, 0.1, 0.2])
def test_a_corner_of_some_radius_moves_the_load_circle_inwards(radius):
    disc = Disc("A1", OD, BORE, THICK, CONE, "sharp", 0.0, edge_radius_mm=radius)
    rounded = discs(OD, BORE, [THICK], CONE, disc.inset_mm)
    assert lever_ratio(rounded)[0] == pytest.approx(
        contact_lever(1e-6) / contact_lever(radius), rel=2e-3
    )


def test_a_measured_edge_radius_counts_in_load_and_doubt():
    bag, job = seeded_bag(12, 3), plain_job()
    sharp = tuple(replace(d, edge="sharp", flat_mm=0.0) for d in bag.discs)
    rounded = tuple(replace(d, edge_radius_mm=0.1) for d in sharp)
    dressed = tuple(replace(d, edge="dressed", flat_mm=d.inset_mm) for d in rounded)
    dressed = tuple(replace(d, edge_radius_mm=0.0) for d in dressed)
    tasks = [
        pose(believe(replace(bag, discs=of), job), job, np.full(3, 890.0))
        for of in (sharp, rounded, dressed)
    ]
    assert tasks[0].discs.flat_mm.max() == 0.0
    assert tasks[1].discs.flat_mm == pytest.approx(tasks[2].discs.flat_mm)
    assert (tasks[1].belief.scatter == job.model.sharp_scatter).all()
    stacks = np.full((3, 4, 3), -1)
    stacks[..., 0] = np.arange(12).reshape(3, 4)
    at = SOURCES.index("flats")
    parts = [load_uncertainty(task, stacks, np.full(3, 890.0)).parts_n2[:, at] for task in tasks]
    assert (parts[0] == 0).all()
    assert parts[1] == pytest.approx(parts[2])
    assert (parts[1] > 0).all()
