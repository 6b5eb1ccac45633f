"""Runs the command line in this process, as a user's shell would see it."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from dataclasses import dataclass

import pytest

from optimizer.cli.main import main


@dataclass(frozen=True)
class Ran:
    """Exit code, standard output and standard error."""

    code: int
    out: str
    err: str


def evenstack(capsys: pytest.CaptureFixture[str], *words: object) -> Ran:
    """Run one command; an exception other than an exit fails the test that called it."""
    capsys.readouterr()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["evenstack", *map(str, words)])
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
    return Ran(code, *capsys.readouterr())


def sent_to_a_terminal(command: list[str], columns: int, **environment: str) -> str:
    """Run a command on a terminal of so many columns; what it is sent, colours as they are."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    unset = ("COLUMNS", "NO_COLOR", "FORCE_COLOR")
    kept = {k: v for k, v in os.environ.items() if k not in unset}
    kept |= {"TERM": "xterm", "PYTHONPATH": os.pathsep.join(sys.path)} | environment
    with subprocess.Popen(command, stdout=theirs, stderr=subprocess.DEVNULL, env=kept) as running:
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
        assert running.wait() == 0
    return re.sub(r"\r\n", "\n", sent.decode())
