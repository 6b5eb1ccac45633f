"""Text fits the columns there are, and no word is broken."""

import sys
from pathlib import Path

import pytest

from optimizer import wrapping
from tests.shell import sent_to_a_terminal

ROOT = Path(__file__).parents[1]
KART = ROOT / "examples" / "kart_mm" / "job.toml"


def test_a_paragraph_hangs_and_breaks_between_words_only():
    with wrapping.columns(40):
        lines = wrapping.wrapped("one two-three " * 8 + "x" * 50, "  ", "    ")
    assert lines[0].startswith("  one")
    assert lines[1].startswith("    ")
    assert max(map(len, lines[:-1])) <= 40
    assert lines[-1].strip() == "x" * 50
    assert "two-three" in lines[0]


def test_a_long_path_breaks_between_its_folders():
    said = "of races/clutches of the club/in the shed/kart-2/match-1/plan.json"
    with wrapping.columns(40):
        lines = wrapping.wrapped_path(said)
    assert max(map(len, lines)) <= 40
    assert "".join(lines).replace(" ", "") == said.replace(" ", "")
    assert wrapping.wrapped_path(said) == [said]


def test_a_table_too_wide_becomes_paragraphs_whose_cells_stay_with_their_heads():
    heads, rows = ("disc", "thickness", "load"), [("A01", "0.902 mm", "812.4 N")] * 2
    assert wrapping.table(heads, rows)[1] == "A01    0.902 mm  812.4 N"
    with wrapping.columns(40):
        wide = wrapping.table((*heads, "what else there is"), [(*rows[0], "nothing")] * 2)
    assert wide[:2] == ["disc A01: thickness 0.902 mm,", "    load 812.4 N, what else there is"]


@pytest.mark.parametrize(
    "words", [("inspect", KART), ("engage", KART), ("match", KART, "--out", "out")]
)
def test_nothing_is_wider_than_a_terminal_of_60_columns(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    command = [sys.executable, "-m", "optimizer.cli.main", *map(str, words)]
    lines = sent_to_a_terminal(command, 60, NO_COLOR="1").splitlines()
    commands = [line for line in lines if line.startswith("  evenstack ")]  # to be copied whole
    wide = [line for line in lines if len(line) > 60 and line not in commands]
    assert not wide
    if words[0] == "match":  # a file is as wide as ever
        kept = (tmp_path / "out" / "card.txt").read_text().splitlines()
        assert 60 < max(len(line) for line in kept if line not in commands) <= 80
