"""A clutch set up on the page: the job file changes where it was asked to, and nowhere else."""

import tomllib

import pytest

from optimizer.errors import InputError
from optimizer.face.sources import read_job
from optimizer.io.job.templates import job_template
from optimizer.page.job_text import with_values
from tests.page.conftest import EXAMPLES
from tests.page.visit import Visit

FORM = "/c/this/clutch"


def made(place, **fields):
    """Make a clutch on the page; return its folder."""
    visit = Visit(place)
    visit.post("/new", {"name": "mine", "units": "mm", "height": "height", **fields})
    assert visit.answer.status_code == 200, visit.words
    return place / fields.get("name", "mine")


def test_a_new_clutch_has_the_commented_files_of_init(tmp_path):
    folder = made(tmp_path)
    assert (folder / "job.toml").read_text() == job_template("mm")
    assert (folder / "bag.csv").read_text().startswith("disc,od_mm,id_mm,thickness_mm,height_mm")
    assert (folder / "readings.csv").exists()


def test_in_inches_too(tmp_path):
    folder = made(tmp_path, units="in", height="cone_height")
    assert read_job(folder / "job.toml").units == "in"
    assert "cone_height_in" in (folder / "bag.csv").read_text()


@pytest.mark.parametrize(
    "name", ["../out", "/etc", "a/b", "a\\b", "..", ".hidden", "", "x" * 61, "a\0b", "this", "~/x"]
)
def test_no_name_leads_out_of_the_folder(tmp_path, name):
    root = tmp_path / "root"
    root.mkdir()
    visit = Visit(root)
    visit.post("/new", {"name": name, "units": "mm"})
    outside = {p.name for p in tmp_path.iterdir()}
    assert outside == {"root"}
    for made_one in root.iterdir():
        assert made_one.resolve().is_relative_to(root)


def test_a_new_clutch_says_that_its_values_are_an_example(tmp_path):
    visit = Visit(tmp_path)
    visit.post("/new", {"name": "kart-2", "units": "mm"})
    assert "An example is filled in" in visit.words
    visit.get("/c/kart-2/clutch")
    assert "An example is filled in" not in visit.words


def test_the_first_disc_is_not_judged_by_what_is_not_typed_yet(tmp_path):
    """Its height was missed, in red, while the thickness was being typed; its unit is told."""
    visit = Visit(tmp_path)
    visit.post("/new", {"name": "one", "units": "in", "height": "height"})
    bag = "/c/one/bag"
    disc = {"disc": "A01", "edge": "sharp", "thickness": "1.05"}
    visit.post(f"{bag}/look", {**disc, "field": "thickness"})
    assert visit.answer.json() == {"problems": [], "warnings": []}
    visit.post(f"{bag}/look", {**disc, "height": "1.47", "field": "height", "od": "20", "id": "10"})
    assert visit.answer.json()["problems"] == ["This looks typed in mm: the bag is in inches."]


def test_a_key_that_lacks_leads_to_the_form(kart):
    job = kart.house.folder.root / "job.toml"
    job.write_text(job.read_text().replace("shoe_mass_g = 210\n", ""))
    kart.get("/c/this/hookup")
    assert "shoe_mass" in kart.words
    assert 'href="/c/this/clutch">Look at the clutch' in kart.answer.text


def test_nothing_there_is_overwritten(tmp_path):
    folder = made(tmp_path)
    (folder / "bag.csv").write_text("mine")
    visit = Visit(tmp_path)
    visit.post("/new", {"name": "mine", "units": "mm"})
    assert visit.answer.status_code == 422
    assert (folder / "bag.csv").read_text() == "mine"


def filled(visit):
    """The fields of the form as a browser would send them back."""
    import re

    html = visit.get(FORM).text
    found = dict(re.findall(r'name="([\w.]+)" value="([^"]*)"', html))
    chosen = re.findall(r'<select [^>]*name="([\w.]+)".*?</select>', html, re.S)
    return {**{name: found[f"was.{name}"] for name in chosen}, **found}


def test_saving_without_a_change_changes_no_byte(kart):
    job = kart.house.folder.root / "job.toml"
    before = job.read_bytes()
    kart.post(FORM, filled(kart))
    assert job.read_bytes() == before


def test_one_value_changes_one_line(kart):
    job = kart.house.folder.root / "job.toml"
    before = job.read_text().splitlines()
    kart.post(FORM, {**filled(kart), "clutch.travel": "1.52"})
    assert "Saved" in kart.words
    after = job.read_text().splitlines()
    assert [(a, b) for a, b in zip(before, after, strict=True) if a != b] == [
        ("travel_mm = 1.5", "travel_mm = 1.52")
    ]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"clutch.travel": "0"}, "Travel, mm: Expected travel_mm"),
        ({"clutch.travel": "0.06"}, "looks typed in the other unit"),
        ({"clutch.travel": "one"}, "is no number"),
        ({"clutch.travel": ""}, "Expected travel_mm or travel_in"),
        ({"datum.seating_load": "27"}, "exactly one of seating_load and installed_length"),
        ({"stack.packet_sizes": "1, 5"}, "packet_sizes"),
        ({"stack.shims": "0.1, x"}, "is no number"),
        ({"clutch.shoes": '3\n[bag]\nfile = "/etc/passwd"'}, "is no number"),
    ],
)
def test_what_no_command_would_read_is_not_written(kart, typed, told):
    job = kart.house.folder.root / "job.toml"
    before = job.read_bytes()
    kart.post(FORM, {**filled(kart), **typed})
    assert kart.answer.status_code == 422
    assert told in kart.words
    assert "job.toml line" not in kart.words  # what was typed stands on no line of it
    assert job.read_bytes() == before


def test_of_two_edits_of_one_key_the_second_is_told_and_offered_both(kart):
    job = kart.house.folder.root / "job.toml"
    seen = filled(kart)
    kart.post(FORM, {**seen, "clutch.travel": "1.55"})
    kart.post(FORM, {**seen, "clutch.travel": "1.58"})
    assert kart.answer.status_code == 409
    assert "Travel: 1.55 there, 1.58 here" in kart.words
    assert "travel_mm = 1.55" in job.read_text()
    kart.post(FORM, {**seen, "clutch.travel": "1.58", "mine": "1"})
    assert "travel_mm = 1.58" in job.read_text()


def test_two_edits_of_two_keys_are_both_kept(kart):
    job = kart.house.folder.root / "job.toml"
    seen = filled(kart)
    kart.post(FORM, {**seen, "clutch.travel": "1.52"})
    kart.post(FORM, {**seen, "target.load": "900"})
    assert "travel_mm = 1.52" in job.read_text()
    assert "load_n = 900" in job.read_text()


SAMPLE = """# mine
[clutch]
  travel_mm = 1.5   # measured # twice
# worn_travel_mm = 1.7
note_to_me = "x # y"

[stack]
shims_mm = [
  0.1, # thin
  0.2,
]
[datum]
"seating_load_n" = 27
"""


def test_remarks_indents_and_lists_over_lines_are_minded():
    after = with_values(
        SAMPLE,
        {
            ("clutch", "travel"): ("travel_mm", "1.6"),
            ("clutch", "worn_travel"): ("worn_travel_mm", "1.8"),
            ("stack", "shims"): ("shims_mm", "[0.3]"),
            ("datum", "seating_load"): ("seating_load_n", None),
            ("target", "load"): ("load_n", "890"),
        },
    )
    assert "  travel_mm = 1.6   # measured # twice\n" in after
    assert "\nworn_travel_mm = 1.8\n" in after
    assert "shims_mm = [0.3]\n[datum]" in after
    assert '# "seating_load_n" = 27' in after
    read = tomllib.loads(after)
    assert read["target"] == {"load_n": 890}
    assert read["clutch"]["note_to_me"] == "x # y"


def test_a_job_in_another_way_is_left_alone():
    with pytest.raises(InputError, match="cannot change"):
        with_values("clutch = {travel_mm = 1.5}\n", {("clutch", "travel"): ("travel_mm", "1.6")})


def test_every_example_can_be_opened_in_the_form():
    for folder in sorted(EXAMPLES.glob("*/job.toml")):
        visit = Visit(folder.parent)
        assert visit.get(FORM).status_code == 200
        assert ("reach the target" in visit.words) == (folder.parent.name != "spring_order")


def test_where_the_gauge_presses_a_stack_is_chosen_from_its_words(kart):
    path = kart.house.folder.root / "job.toml"
    seen = filled(kart)
    assert seen["gauge.reads"] == ""
    kart.post(FORM, {**seen, "gauge.reads": "in the clutch"})
    assert read_job(path).gauge.reads == "in the clutch"
    assert "<option selected>in the clutch</option>" in kart.get(FORM).text
    kart.post(FORM, {**filled(kart), "gauge.reads": "elsewhere"})
    assert kart.answer.status_code == 422
    assert read_job(path).gauge.reads == "in the clutch"
