"""Play mutants against the tests of their room, in a copy of the project of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
PARTS = ("optimizer", "tests", "catalogs", "examples", "pyproject.toml", "README.md")


@contextmanager
def copied() -> Iterator[Path]:
    """A copy of the project in which a file may be spoiled."""
    with TemporaryDirectory() as place:
        for name in (*PARTS, "DEVELOPERS.md"):
            if (ROOT / name).is_dir():
                shutil.copytree(
                    ROOT / name, Path(place) / name, ignore=shutil.ignore_patterns("__pycache__")
                )
            else:
                shutil.copy(ROOT / name, place)
        yield Path(place)


def tested(folder: Path, room: str, bound_s: float) -> str | None:
    """Run a room's tests up to the first that fails.

    Its name comes back, "time" where they did not end, None where all pass.
    """
    command = [sys.executable, "-m", "pytest", "-x", "-n", "0", "-p", "no:cacheprovider", "-q"]
    paths = {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    with subprocess.Popen(
        [*command, "--tb=no", f"tests/{room}"],
        cwd=folder, env=os.environ | paths, text=True, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as running:  # fmt: skip
        try:
            told, _ = running.communicate(timeout=bound_s)
        except subprocess.TimeoutExpired:
            os.killpg(running.pid, 9)
            running.communicate()
            return "time"
    if running.returncode == 0:
        return None
    failed = [line for line in told.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0].split(" - ")[0].partition(" ")[2] if failed else told[-200:]
