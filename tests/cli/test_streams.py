"""Terminals that cannot show the answer, and Ctrl-C: one line, no traceback."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer.control import Limits
from optimizer.match import solve
from tests.shell import evenstack

KART = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"
PROGRAM = "from optimizer.cli.entry import main; main()"


def command(*words):
    return [sys.executable, "-c", PROGRAM, *map(str, words)]


def test_a_terminal_that_knows_no_dashes_still_shows_the_answer():
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    told = subprocess.run(command("inspect", KART), env=env, capture_output=True, check=False)
    assert told.returncode == 0
    assert b"Traceback" not in told.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_said_in_one_line():
    with open("/dev/full", "w") as full:
        told = subprocess.run(
            command("inspect", KART), stdout=full, stderr=subprocess.PIPE, text=True, check=False
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
