import os
import pty
import subprocess
import sys

from optimizer.cli.table import plain

HEADS, ROWS = ("disc", "load"), [("A1", "9.0 N"), ("A10", "123.4 N")]

SHOW = f"from optimizer.cli.table import show_table; show_table({HEADS!r}, {ROWS!r}, 'Loads')"


def on_a_terminal(**environment: str) -> str:
    """What a terminal of 80 columns is sent."""
    ours, theirs = pty.openpty()
    kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR")}
    kept |= {"TERM": "xterm", "COLUMNS": "80", "PYTHONPATH": os.pathsep.join(sys.path)}
    subprocess.run([sys.executable, "-c", SHOW], stdout=theirs, env=kept | environment, check=True)
    os.close(theirs)
    sent = b""
    while True:
        try:
            chunk = os.read(ours, 4096)
        except OSError:  # the end, on a terminal
            break
        if not chunk:
            break
        sent += chunk
    os.close(ours)
    return sent.decode()


def test_plain_text_is_aligned_words_left_and_numbers_right():
    assert plain(HEADS, ROWS, "Loads") == "Loads\ndisc     load\nA1      9.0 N\nA10   123.4 N\n\n"


def test_a_terminal_gets_a_drawn_table_in_80_columns():
    sent = on_a_terminal()
    assert "─" in sent
    assert "123.4 N" in sent
    assert all(len(line.rstrip()) <= 80 for line in on_a_terminal(NO_COLOR="1").splitlines())


def test_no_color_is_respected():
    assert "\x1b[3" not in on_a_terminal(NO_COLOR="1").replace("\x1b[3m", "")
