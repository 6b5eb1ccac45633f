"""The table of all keys of a job, for a page: `python -m optimizer.io.job.key_table`."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.io.job.keys import ARMS, SECTIONS, Key, keys_of, toml
from optimizer.io.job.templates import ABOUT
from optimizer.io.job.words import bounds


def key_table() -> str:
    """Return every key of a job with range, default and meaning, in Markdown."""
    return "\n".join(_lines())


def _lines() -> Iterator[str]:
    yield "# Keys of a job"
    yield ""
    yield (
        "Ranges and defaults are in the unit of the first spelling; no default means that nothing "
        "is assumed. Every key of `[clutch]` but `shoes` may stand in a `[[clutch.shoe]]` too."
    )
    for section in SECTIONS:
        yield from ("", f"## [{section}]", "", ABOUT[section], "")
        yield from ("| key | range | default | meaning |", "|---|---|---|---|")
        yield from map(_row, keys_of(section))
    yield ""


def _row(key: Key) -> str:
    names = ", ".join(f"`{spelled}`" for spelled in key.spellings())
    within = " or ".join(f'"{word}"' for word in key.choices) or bounds(key.within)
    default = "" if key.default is None or key.name in ARMS else toml(key.default, 1.0)
    return f"| {names} | {within} | {default} | {key.meaning} |"


if __name__ == "__main__":
    print(key_table(), end="")
