"""Filling the templates of the page: everything is escaped, numbers in the user's units."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import text
from optimizer.report.page import environment

if TYPE_CHECKING:
    from jinja2 import Environment

HERE = Path(__file__).parent
#: files that a browser may ask for, by name
STATIC = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}


@cache
def _environment() -> Environment:
    env = environment(HERE / "templates")
    env.globals["say"] = text
    return env


def filled(template: str, context: dict[str, Any]) -> str:
    """Fill a template of the page."""
    return _environment().get_template(f"{template}.html.j2").render(context)


@cache
def static(name: str) -> bytes:
    """Return a static file by its name, which must be one of `STATIC`."""
    return (HERE / "static" / name).read_bytes()
