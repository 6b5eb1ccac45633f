import sys

from optimizer.wrapping import TextTable, plain
from tests.shell import sent_to_a_terminal

HEADS, ROWS = ("disc", "load"), [("A1", "9.0 N"), ("A10", "123.4 N")]

SHOW = f"from optimizer.cli.table import show_table; show_table({HEADS!r}, {ROWS!r}, 'Loads')"


def on_a_terminal(**environment: str) -> str:
    return sent_to_a_terminal([sys.executable, "-c", SHOW], 80, **environment)


def test_plain_text_is_aligned_words_left_and_numbers_right():
    assert (
        plain(TextTable(HEADS, ROWS, "Loads"))
        == "Loads\ndisc     load\nA1      9.0 N\nA10   123.4 N\n\n"
    )


def test_a_terminal_gets_a_drawn_table_in_80_columns():
    sent = on_a_terminal()
    assert "─" in sent
    assert "123.4 N" in sent
    assert all(len(line.rstrip()) <= 80 for line in on_a_terminal(NO_COLOR="1").splitlines())


def test_no_color_is_respected():
    assert "\x1b[3" not in on_a_terminal(NO_COLOR="1").replace("\x1b[3m", "")
