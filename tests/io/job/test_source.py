from optimizer.io.job.source import Source

TEXT = """\
units = "in"
[clutch] # the clutch
shoes = 2
[[clutch.shoe]]
travel_in = 0.06
[[clutch.shoe]]
"travel_in" = 0.061
[stack]
together = [
  ["A01", "A02"],
]
disc.od_mm = 20
"""


def test_lines_of_sections_and_keys(tmp_path):
    source = Source(tmp_path / "job.toml", TEXT)
    assert str(source.where("", "units")) == "job.toml line 1, units"
    assert str(source.where("clutch", "shoes")) == "job.toml line 3, [clutch] shoes"
    assert str(source.where("clutch.shoe 1", "travel_in")).startswith(
        "job.toml line 5, [[clutch.shoe]]"
    )
    assert str(source.where("clutch.shoe 2", "travel_in")).startswith("job.toml line 7")
    assert str(source.where("stack", "together")).startswith("job.toml line 9")
    assert str(source.where("stack.disc", "od_mm")).startswith("job.toml line 12")


def test_a_key_that_is_missing_is_placed_at_its_section(tmp_path):
    source = Source(tmp_path / "job.toml", TEXT)
    assert str(source.where("clutch", "travel_mm")).startswith("job.toml line 2")
    assert str(source.where("datum")) == "job.toml, [datum]"
