"""The command line as a whole: exit codes, streams, bad files, nothing half-written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.bad_files.test_bad_files import BAD, HERE
from tests.shell import evenstack

EXAMPLES = Path(__file__).parent.parent / "examples"


def job_for(file: Path, folder: Path) -> Path:
    """Return the job that reads a bad file: the file itself, or a good job with a bad bag."""
    if file.parent.name == "jobs":
        return file
    good = (HERE / "good_job.toml").read_text(encoding="utf-8")
    job = folder / "job.toml"
    job.write_text(good.replace('"good_bag.csv"', f'"{file.as_posix()}"'), encoding="utf-8")
    return job


@pytest.mark.parametrize("bad", BAD, ids=lambda bad: bad["file"])
def test_a_bad_file_ends_with_two_and_one_readable_message(
    bad: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = HERE / str(bad["file"])
    ran = evenstack(capsys, "match", job_for(file, tmp_path), "--out", tmp_path / "out")
    assert ran.code == 2
    assert ran.out == ""
    assert all(str(part) in ran.err for part in bad["says"])
    assert "Traceback" not in ran.err
    assert not (tmp_path / "out").exists()


def test_there_are_at_least_sixty_bad_files() -> None:
    assert len(BAD) >= 60


def test_a_real_process_shows_no_traceback(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "optimizer.cli.main", "match", str(tmp_path / "none.toml")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 2
    assert "none.toml" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_help_carries_the_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    ran = evenstack(capsys, "--help")
    assert ran.code == 0
    assert "stores energy" in ran.out
    assert "maker" in ran.out


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, optimizer.cli.main; "
        "print(sorted({'numpy', 'scipy', 'ortools', 'pandas', 'rich', 'jinja2', 'matplotlib'}"
        " & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_json_is_one_document_on_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    ran = evenstack(capsys, "match", EXAMPLES / "kart_mm" / "job.toml", "--json")
    assert ran.code == 0
    plan = json.loads(ran.out)
    assert plan["schema"] == "evenstack.plan/1"
    assert plan["solve_seconds"] > 0


def test_a_refusal_is_one_json_document_too(capsys: pytest.CaptureFixture[str]) -> None:
    ran = evenstack(capsys, "match", HERE / "jobs" / "bag_missing.toml", "--json")
    assert ran.code == 2
    refusal = json.loads(ran.out)
    assert refusal["schema"] == "evenstack.refusal/1"
    assert refusal["problems"][0]["remedy"]


def test_the_same_seed_writes_the_same_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("first", "second"):
        evenstack(capsys, "match", EXAMPLES / "kart_mm" / "job.toml", "--out", tmp_path / name)
    first, second = ((tmp_path / name / "plan.json").read_bytes() for name in ("first", "second"))
    assert first == second


def test_what_is_there_is_not_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "card.txt").write_text("mine")
    ran = evenstack(capsys, "match", EXAMPLES / "kart_mm" / "job.toml", "--out", tmp_path)
    assert ran.code == 2
    assert (tmp_path / "card.txt").read_text() == "mine"
    assert not (tmp_path / "plan.json").exists()
