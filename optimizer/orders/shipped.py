"""Where the catalogs that come with the program are."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path


def shipped(name: str) -> Path:
    """Return the path of a shipped catalog file.

    An installed package holds them beside its modules, a checkout at its top level.
    """
    package = files("optimizer")
    inside = package / "catalogs" / name
    with as_file(inside if inside.is_file() else package / ".." / "catalogs" / name) as path:
        return path.resolve()
