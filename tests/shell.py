"""Runs the command line in this process, as a user's shell would see it."""

from __future__ import annotations

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
