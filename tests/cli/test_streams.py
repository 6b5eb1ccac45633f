"""Terminals that cannot show the answer, and Ctrl-C: one line, no traceback."""

import json
import shutil
import signal
import subprocess
import sys
import time
from io import BytesIO, TextIOWrapper
from pathlib import Path

import pytest

from optimizer.cli.main import main
from optimizer.control import Limits
from optimizer.match import solve
from tests.shell import evenstack

KART = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"
PROGRAM = "from optimizer.cli.entry import main; main()"


def command(*words):
    return [sys.executable, "-c", PROGRAM, *map(str, words)]


def test_a_terminal_that_knows_no_dashes_still_shows_the_answer(monkeypatch, tmp_path):
    monkeypatch.setattr("sys.argv", ["evenstack", "init", str(tmp_path / "kart \u2013 new")])
    shown = BytesIO()
    with TextIOWrapper(shown, encoding="ascii") as terminal, pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", terminal)
        with pytest.raises(SystemExit) as ended:
            main()
        terminal.flush()
        told = shown.getvalue().decode("ascii")
    assert ended.value.code == 0
    assert r"kart \u2013 new" in " ".join(told.split())


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_said_in_one_line():
    with open("/dev/full", "w") as full:
        told = subprocess.run(
            command("catalog"), stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert told.returncode == 2
    assert told.stderr.strip().startswith("The answer cannot be written (No space left")
    assert len(told.stderr.strip().splitlines()) == 1


def test_ctrl_c_in_the_search_marks_the_best_so_far(capsys, monkeypatch):
    monkeypatch.setattr(Limits, "stopped_by", property(lambda self: "interrupted"))
    told = evenstack(capsys, "match", KART, "--json")
    assert json.loads(told.out)["stopped"] == "interrupted"


def test_ctrl_c_before_any_answer_is_130_and_one_line(capsys, monkeypatch):
    def stopped(task, limits, seed, report):
        signal.raise_signal(signal.SIGINT)  # taken as the wish to stop
        assert limits.stopped
        return None, ""

    monkeypatch.setattr(solve, "search_all", stopped)
    told = evenstack(capsys, "match", KART, "--json")
    assert told.code == 130
    assert told.err.strip() == "Stopped; nothing was written."
    assert told.out == ""


INTERRUPTED = property(lambda self: "interrupted")


def test_ctrl_c_in_the_search_of_the_bench_keeps_the_readings_and_is_130(
    capsys, monkeypatch, tmp_path
):
    folder = tmp_path / "kart"
    shutil.copytree(KART.parent, folder)
    job, out = folder / "job.toml", tmp_path / "plan"
    assert evenstack(capsys, "match", job, "--out", out).code == 0
    readings = tmp_path / "readings.csv"
    planned = json.loads((out / "plan.json").read_text())["sets"][0]["stacks"]
    loads = [
        round(stack["working_load_n"] + off)
        for stack, off in zip(planned, (0, 30, -30), strict=True)
    ]
    readings.write_text(
        "round,shoe,kind,load_n\n"
        + "".join(f"1,{shoe},settled,{load}\n" for shoe, load in enumerate(loads, 1))
    )
    monkeypatch.setattr(Limits, "stopped_by", INTERRUPTED)
    told = evenstack(
        capsys, "bench", job, "--plan", out / "plan.json", "--readings", readings, "--json"
    )
    assert told.code == 130
    assert json.loads(told.out)["stopped"] == "interrupted"
    told = evenstack(capsys, "bench", job, "--plan", out / "plan.json", "--readings", readings)
    assert told.code == 130
    assert "\nINTERRUPTED: this is the best so far" in told.out
    assert (folder / "job.known.json").exists()


def test_ctrl_c_in_retarget_says_that_not_every_way_was_tried(capsys, monkeypatch):
    job = Path(__file__).parents[2] / "examples" / "unequal_shoes" / "job.toml"
    real = Limits.of

    def stopped(seconds):
        limits = real(seconds)
        limits.stopped = True
        return limits

    monkeypatch.setattr(Limits, "of", stopped)
    told = evenstack(
        capsys, "retarget", job, "--load-now", "700", "--rpm-now", "3000", "--later", "300"
    )
    assert told.code == 130
    assert "not every way was tried" in told.err
    assert "there may be more ways" in told.out


def test_the_wish_of_a_system_to_end_is_taken_for_ctrl_c_and_no_child_is_left(tmp_path):
    job = Path(__file__).parents[2] / "examples" / "spring_order" / "job.toml"
    words = command("order", job, "--sets", 10, "--workers", 2, "--draws", "9000")
    pipe, null = subprocess.PIPE, subprocess.DEVNULL
    with subprocess.Popen(words, stdout=null, stderr=pipe, text=True) as running:
        children = Path(f"/proc/{running.pid}/task/{running.pid}/children")
        if not children.exists():
            running.kill()
            pytest.skip("this system does not tell children")
        until = time.monotonic() + 60
        while len(children.read_text().split()) < 2 and time.monotonic() < until:
            time.sleep(0.1)
        born = children.read_text().split()
        assert len(born) >= 2
        running.terminate()
        said = running.stderr.read()
        assert running.wait(30) == 130
    assert "nothing was written" in said
    until = time.monotonic() + 10
    while any(Path(f"/proc/{child}").exists() for child in born) and time.monotonic() < until:
        time.sleep(0.1)
    assert not [child for child in born if Path(f"/proc/{child}").exists()]
