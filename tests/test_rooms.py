"""The order of the house: who may import whom, how long a file is, what no file says."""

import ast
import re
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

#: lowest first; a room imports lower ones only, and of its own rank only itself
RANKS = [
    {"errors", "units", "control", "frozen", "wrapping"},
    {"text"},
    {"model"},
    {"io"},
    {"mechanics"},
    {"estimate"},
    {"clutch"},
    {"match"},
    {"bench", "hookup", "orders"},
    # a way is played by the very rules of match and bench, on benches drawn from what they believe
    {"ways"},
    {"report"},
    {"face"},
    {"page"},
    {"cli"},
]
RANK = {room: rank for rank, rooms in enumerate(RANKS) for room in rooms}
ONLY_IN = {
    "ortools": ("match", "orders"),
    "matplotlib": ("report",),
    "jinja2": ("report", "page"),
    "starlette": ("page",),
    "uvicorn": ("page",),
    "segno": ("page",),
}
LONGEST = 300

#: written in two parts, so that this file does not say them either
UNSAID = {
    "a path of one machine": r"(?<![\w.])/(?:wo" + r"rk|tm" + r"p|ho" + r"me|ro" + r"ot)/",
    "the host of a registry": r"(?:py" + r"pi|pytho" + r"nhosted|npm" + r"js|crat" + r"es)\.\w+\b",
}


@cache
def imports(path: Path, source: str) -> tuple[tuple[int, str], ...]:
    """Line and dotted name of everything a module imports, wherever it does so."""
    return tuple(_imports(path, source))


def _imports(path: Path, source: str) -> Iterator[tuple[int, str]]:
    package = path.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            parts = [*package[: len(package) - node.level + 1]] if node.level else []
            base = ".".join([*parts, *([node.module] if node.module else [])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def room_of(path: Path) -> str:
    """Room of a module: the first name below the package, empty for the package itself."""
    return path.relative_to(ROOT / "optimizer").with_suffix("").parts[0].replace("__init__", "")


def breaches(path: Path, source: str) -> list[str]:
    """What the imports of a module break, each with its file and line."""
    room = room_of(path)
    found = []
    for line, name in imports(path, source):
        place = f"{path.relative_to(ROOT)}:{line}"
        top, _, rest = name.partition(".")
        other = rest.partition(".")[0]
        if top == "optimizer" and other in RANK and other != room:
            if RANK[other] >= RANK.get(room, 0):
                found.append(f"{place}: {room or 'the package'} must not import {other}")
        elif room not in ONLY_IN.get(top, (room,)):
            found.append(f"{place}: {top} is for {'/ and '.join(ONLY_IN[top])}/ alone")
    return found


def modules() -> list[Path]:
    return sorted((ROOT / "optimizer").rglob("*.py"))


@cache
def text_files() -> tuple[tuple[Path, list[str]], ...]:
    """Lines of every text file that is kept, or would be: what git does not ignore."""
    return tuple(_text_files())


def _text_files() -> Iterator[tuple[Path, list[str]]]:
    asked = ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"]
    try:
        told = subprocess.run(asked, cwd=ROOT, capture_output=True, check=True, text=True).stdout
        names = [ROOT / name for name in told.split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        names = [
            p for p in ROOT.rglob("*") if not any(q[0] == "." for q in p.relative_to(ROOT).parts)
        ]
    for path in names:
        try:
            yield path, path.read_text(encoding="utf-8").splitlines()
        except (UnicodeDecodeError, OSError):
            continue  # a workbook or picture, a folder, a file just gone


def test_every_room_has_a_rank():
    rooms = {room_of(path) for path in modules()} - {""}
    assert rooms <= RANK.keys(), f"give a rank to {sorted(rooms - RANK.keys())}"


def test_no_room_imports_a_higher_or_an_equal_one():
    found = [b for path in modules() for b in breaches(path, path.read_text(encoding="utf-8"))]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("where", "line", "broken"),
    [
        ("mechanics/disc.py", "from optimizer.match import solve", True),
        ("mechanics/disc.py", "from optimizer import cli", True),
        ("mechanics/disc.py", "import optimizer.estimate.hexagon", True),
        ("mechanics/disc.py", "from ..report import page", True),
        ("bench/reading.py", "def f():\n    from optimizer.hookup.way import way", True),
        ("estimate/likely.py", "from ortools.sat.python import cp_model", True),
        ("match/write.py", "import matplotlib.pyplot as plt", True),
        ("__init__.py", "from optimizer.cli import main", True),
        ("mechanics/disc.py", "from optimizer.mechanics.law import thick", False),
        ("mechanics/disc.py", "from .law import thick", False),
        ("cli/open.py", "from starlette.applications import Starlette", True),
        ("page/asked.py", "from optimizer.cli.main import app", True),
        ("page/asked.py", "from starlette.routing import Route", False),
        ("match/solve.py", "from ortools.sat.python import cp_model", False),
        ("cli/main.py", "from optimizer.report.page import sheet", False),
        ("io/files.py", "from optimizer.errors import InputError", False),
    ],
)
def test_the_walk_sees_a_breach_and_only_that(where, line, broken):
    found = breaches(ROOT / "optimizer" / where, line)
    assert bool(found) == broken
    assert all(f"optimizer/{where}:" in each for each in found)


def test_no_file_of_code_is_long():
    code = {".py", ".html", ".j2", ".css", ".js"}
    long = [
        f"{path.relative_to(ROOT)}:{len(lines)}: longer than {LONGEST} lines"
        for path, lines in text_files()
        if path.suffix in code and len(lines) > LONGEST
    ]
    assert not long, "\n".join(long)


def test_no_file_names_a_machine_or_a_registry():
    found = [
        f"{path.relative_to(ROOT)}:{number}: says {what}: {line.strip()[:80]}"
        for path, lines in text_files()
        for number, line in enumerate(lines, 1)
        for what, pattern in UNSAID.items()
        if re.search(pattern, line, re.IGNORECASE)
    ]
    assert not found, "\n".join(found)


def test_the_top_level_is_fixed():
    kept = {path.relative_to(ROOT).parts[0] for path, _ in text_files()}
    fixed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    fixed |= {"optimizer", "catalogs", "tests", "examples"}
    extra = {name for name in kept if name[0] != "."} - fixed
    assert not extra, f"move {sorted(extra)} to where they belong"


def test_the_picture_of_the_rooms_is_in_step():
    """Rooms and arrows as they are; lines as they were within a fifth, not at every change."""
    from tests.rooms import BLOCK, DOCUMENT, picture

    (kept,) = BLOCK.findall(DOCUMENT.read_text(encoding="utf-8"))
    now = picture()
    numbers = re.compile(r" (\d+)\"")
    wanted = "python -m tests.rooms draws it anew"
    assert numbers.sub("", kept) == numbers.sub("", now), wanted
    for was, at in zip(numbers.findall(kept), numbers.findall(now), strict=True):
        assert abs(int(was) - int(at)) <= max(50, int(at) / 5), wanted
