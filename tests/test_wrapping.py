"""Text fits the columns there are, and no word is broken."""

import shutil
import sys
from pathlib import Path

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


#: runs one command after the other on the terminal of one process
RUN = """import sys
from optimizer.cli.main import main
for words in sys.argv[1].split(","):
    sys.argv = ["evenstack", *words.split()]
    try:
        main()
    except SystemExit as ended:
        assert not ended.code
"""


def test_nothing_is_wider_than_a_terminal_of_60_columns(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(KART.parent, tmp_path, dirs_exist_ok=True)
    words = "inspect job.toml,engage job.toml,match job.toml --out out"
    lines = sent_to_a_terminal([sys.executable, "-c", RUN, words], 60, NO_COLOR="1").splitlines()
    heads = " ".join(" ".join(lines).split())
    assert all(word in heads for word in ("40 discs", "ENGAGEMENT", "BUILD three stacks"))
    commands = [line for line in lines if line.startswith("  evenstack ")]  # to be copied whole
    wide = [line for line in lines if len(line) > 60 and line not in commands]
    assert not wide
    # a file is as wide as ever
    kept = (tmp_path / "out" / "card.txt").read_text().splitlines()
    assert 60 < max(len(line) for line in kept if line not in commands) <= 80
