"""The files that commands write for people: sheet, workbook, pictures."""

import pytest

from optimizer.cli.init import init
from tests.shell import evenstack


@pytest.fixture
def job(tmp_path):
    return init(tmp_path / "job", "in")[0]


def test_match_writes_sheet_and_workbook_and_never_over_them(job, tmp_path, capsys):
    out, extra, book = tmp_path / "out", tmp_path / "extra.html", tmp_path / "book.xlsx"
    words = ("match", job, "--out", out, "--sheet", extra, "--xlsx", book, "--why")
    ran = evenstack(capsys, *words)
    assert ran.code == 0, ran.err
    assert {p.name for p in out.iterdir()} == {"plan.json", "card.txt", "sheet.html"}
    assert extra.read_text(encoding="utf-8") == (out / "sheet.html").read_text(encoding="utf-8")
    assert book.read_bytes().startswith(b"PK")
    next_step = f"evenstack bench {job} --plan {out / 'plan.json'}"
    assert ran.out.endswith(next_step + "\n")
    assert (out / "card.txt").read_text(encoding="utf-8") == ran.out
    for path in (out / "sheet.html", extra, book):
        assert str(path) in ran.err
    extra.write_text("mine")
    again = evenstack(capsys, *words)
    assert again.code == 2
    assert "not overwritten" in again.err
    assert extra.read_text() == "mine"


@pytest.mark.parametrize(
    ("option", "name"), [("--out", "card.txt"), ("--sheet", "s.html"), ("--xlsx", "w.xlsx")]
)
def test_what_cannot_be_written_is_refused_before_any_search(
    job, tmp_path, capsys, monkeypatch, option, name
):
    monkeypatch.setattr("optimizer.match.solve.match", None)  # a search would fail
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / name).write_text("mine")
    ran = evenstack(capsys, "match", job, option, mine if option == "--out" else mine / name)
    assert ran.code == 2
    assert f"{mine / name}: is already there and is not overwritten." in ran.err
    below = mine / name / ("folder" if option == "--out" else name)
    ran = evenstack(capsys, "match", job, option, below)
    assert ran.code == 2
    assert f"{below}" in ran.err
    assert "cannot write" in ran.err
    assert [p.name for p in mine.iterdir()] == [name]


@pytest.mark.parametrize("name", ["a.svg", "a.png"])
def test_inspect_and_load_draw(job, tmp_path, capsys, name):
    path = tmp_path / name
    assert evenstack(capsys, "inspect", job, "--plot", path).code == 0
    assert path.stat().st_size > 5000
    again = evenstack(capsys, "load", job, "--stack", "A01 A02 A03 A04 A05 A06 A07", "--plot", path)
    assert again.code == 2
    path.unlink()
    drawn = evenstack(
        capsys, "load", job, "--stack", "A01 A02 A03 A04 A05 A06 A07", "--plot", path, "--json"
    )
    assert drawn.code == 0
    assert drawn.out.startswith("{")
    assert path.stat().st_size > 5000


def test_a_picture_of_another_kind_is_refused_before_any_work(job, tmp_path, capsys):
    for words in (("inspect", job), ("load", job, "--stack", "A01"), ("engage", job)):
        ran = evenstack(capsys, *words, "--plot", tmp_path / "a.pdf")
        assert ran.code == 2
        assert "Expected a file ending in .svg or .png, got a.pdf." in ran.err


def test_engage_without_a_drum_draws_the_speeds_alone(job, tmp_path, capsys):
    text = job.read_text().replace("# shoe_mass_g", "shoe_mass_g").replace("# cg_r", "cg_r")
    job.write_text(text)
    ran = evenstack(capsys, "engage", job, "--plot", tmp_path / "a.svg")
    assert ran.code == 0
    assert "Engagement speed" in (tmp_path / "a.svg").read_text()
    assert "Torque" not in (tmp_path / "a.svg").read_text()
    (tmp_path / "a.svg").unlink()
    text = job.read_text().replace("# drum_r", "drum_r").replace("# friction =", "friction =", 1)
    job.write_text(text)
    assert evenstack(capsys, "engage", job, "--plot", tmp_path / "a.svg").code == 0
    assert "Torque" in (tmp_path / "a.svg").read_text()


def test_an_answer_nobody_named_a_folder_for_is_kept_beside_the_job(capsys, tmp_path):
    import shutil
    from pathlib import Path

    from tests.shell import evenstack

    example = Path(__file__).parents[2] / "examples" / "kart_mm"
    shutil.copytree(example, tmp_path / "kart")
    job = tmp_path / "kart" / "job.toml"
    for name in ("match-1", "match-2"):
        told = evenstack(capsys, "match", job)
        assert told.code == 0
        plan = job.parent / name / "plan.json"
        assert plan.exists()
        assert str(plan) in told.err
        assert f"--plan {plan}" in told.out


@pytest.mark.parametrize(
    ("option", "name", "right"), [("--xlsx", "w.txt", "w.xlsx"), ("--sheet", "s.pdf", "s.html")]
)
def test_a_name_that_hides_what_is_in_the_file_is_refused(tmp_path, capsys, option, name, right):
    """A workbook named .txt opens nowhere."""
    ran = evenstack(capsys, "match", tmp_path / "job.toml", option, tmp_path / name)
    assert ran.code == 2
    assert f"Name it {right}." in ran.err
    assert not (tmp_path / name).exists()
