"""What an instrument is by how fine it measures, in one place for all who count minutes."""

import pytest

from optimizer.model.job import Instrument


@pytest.mark.parametrize(("sd_mm", "tool"), [(0.002, "micrometer"), (0.01, "caliper")])
def test_a_tool_is_told_by_how_fine_it_measures(sd_mm, tool):
    assert Instrument(thickness_sd_mm=sd_mm).tool == tool
