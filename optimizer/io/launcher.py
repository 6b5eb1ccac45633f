"""A small script in a folder that opens the bench page of that folder by a double click."""

from __future__ import annotations

import shlex
import sys

_SHELL = """#!/bin/sh
# Opens the bench page of this folder: double-click it, or run it in a terminal,
# with --phone where the phone beside the gauge is to come in.
cd "$(dirname "$0")" || exit
if [ -x {python} ]; then
  exec {python} -P -m optimizer.cli.entry open . "$@"
fi
exec evenstack open . "$@"
"""
_BATCH = """@echo off
rem Opens the bench page of this folder: double-click it.
chcp 65001 >nul
cd /d "%~dp0"
if exist "{python}" (
  "{python}" -P -m optimizer.cli.entry open . %*
) else (
  evenstack open . %*
)
if errorlevel 1 pause
"""


def launcher(platform: str = sys.platform, python: str = sys.executable) -> tuple[str, str]:
    """Return name and text of the script; `python` is the interpreter that it starts.

    Where that interpreter is gone it starts the command of the search path.
    """
    if platform == "win32":
        # a percent sign stands for itself where it is doubled, and lines end as they do there
        text = _BATCH.format(python=python.replace("%", "%%"))
        return "bench.bat", text.replace("\n", "\r\n")
    name = "bench.command" if platform == "darwin" else "bench.sh"
    return name, _SHELL.format(python=shlex.quote(python))
