"""What the shipped examples give and bad files are told, as text that a review can compare."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from optimizer.cli.main import main
from optimizer.errors import EvenstackError
from tests.bad_files import test_bad_files as bad

ROOT = Path(__file__).parents[2]
MATCHED = ("bench_in", "kart_mm", "pivoted_shoes", "unequal_shoes")
ORDERED = ("order", "--catalog", "catalogs/invented_supplier.csv", "--sets", "2",
           "--draws", "20", "--workers", "1")  # fmt: skip
#: names of all that is kept together: an example, the order, the messages
RESULTS = (*MATCHED, "spring_order", "bad_files")
#: numbers as another machine may well compute them: so many digits, and so many decimals at most
DIGITS, DECIMALS = 6, 6


def made(name: str) -> dict[str, str]:
    """Texts of a result by the file that keeps them."""
    if name == "bad_files":
        return {"bad_files.txt": messages()}
    with TemporaryDirectory() as place:
        out = Path(place) / "out"
        words = ("match",) if name in MATCHED else ORDERED
        run(words[0], f"examples/{name}/job.toml", *words[1:], "--out", str(out))
        return {f"{name}.{told}": text for told, text in sorted(_texts(out))}


def run(*words: str) -> None:
    """Run a command as from the root of the project; what it prints is in its files too."""
    here = [str(ROOT / word) if (ROOT / word).is_file() else word for word in words]
    said = StringIO()
    with (
        patch.object(sys, "argv", ["evenstack", *here]),
        redirect_stdout(said),
        redirect_stderr(said),
    ):
        try:
            main()
        except SystemExit as stop:
            if stop.code:
                raise RuntimeError(said.getvalue()) from None


def _texts(folder: Path) -> Iterator[tuple[str, str]]:
    for file in folder.iterdir():
        text = file.read_text(encoding="utf-8").replace(f"{ROOT}/", "").replace(str(folder), "OUT")
        if file.suffix == ".json":
            data = json.loads(text, parse_float=lambda number: rounded(float(number)))
            text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
        elif file.suffix == ".html":
            text = re.sub(r"\b20\d\d-\d\d-\d\d\b", "DAY", words_of(text))
        yield (file.name if file.suffix != ".html" else f"{file.stem}.words.txt"), text


def rounded(number: float) -> float:
    """A number to the digits that are kept; no minus before a nought."""
    return float(f"{round(number, DECIMALS):.{DIGITS}g}") + 0.0


def messages() -> str:
    """What each bad file is told."""
    told = []
    for one in bad.BAD:
        try:
            bad.read(bad.HERE / one["file"])
        except EvenstackError as error:
            said = str(error).replace(f"{bad.HERE}/", "")
            told.append(f"== {one['file']}\n{said}\n")
    return "\n".join(told)


class _Page(HTMLParser):
    """Words of a page, a line for whatever starts one."""

    INLINE = frozenset({"a", "b", "i", "em", "strong", "span", "sub", "sup", "small", "code",
                        "label", "input"})  # fmt: skip

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = [""]
        self.silent = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent = tag in ("style", "script")
        if tag in ("td", "th"):
            self.lines[-1] += " | "
        elif tag not in self.INLINE:
            self.lines.append("")

    def handle_endtag(self, tag: str) -> None:
        self.silent = False

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.lines[-1] += data


def words_of(html: str) -> str:
    """Text of a page, of drawings too, without style and script; cells of a row side by side."""
    page = _Page()
    page.feed(html)
    lines = (" ".join(line.split()) for line in page.lines)
    return "\n".join(line for line in lines if line) + "\n"
