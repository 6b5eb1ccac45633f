"""Spoils bytes, tables, JSON documents, workbooks and options; the same number spoils the same."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from random import Random
from typing import Any

#: what is put where something else stood
ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 99, 2**63, 10**40, -(10**300), 1e300, -1e300, 1e-300, 0.0, -0.0,
    float("nan"), float("inf"), "", " ", "0", "1,5", "-1", "nan", "1e999", "9" * 5000, "\x1b[31m",
    "\u202e", "[/b]", "=1+1", "a" * 3000, "\ud800", [], {}, [[]], [None], {"a": 1}, [1, 2, 3],
)  # fmt: skip
ODD_BYTES = (
    b"", b"\0", b"\xff\xfe", b'"', b"'", b"\n", b"\r", b"\t", b",", b";", b"=", b"[", b"]]", b"{",
    b"#", b"-", b"9" * 400, b"1e300", b"-1e300", b"1e-300", b"nan", b"inf", b"0", b"1e999", b"_in",
    b"true", b"[stack]\n", b"[[clutch.shoe]]\n", b"\xc3\xa9", b"\x1b[2J", b"[bold]", b"0x10",
    b"1_0", b" ", b"A01", b"1979-05-27", b"dressed", b"sharp", b"..", b"\xe2\x80\xae",
)  # fmt: skip


def spoiled_bytes(content: bytes, rng: Random) -> bytes:
    """Cut, double, swap or sprinkle some of the bytes."""
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(content) + 1)
        end = min(at + rng.choice((0, 1, 2, 5, 12, 60, 400)), len(content))
        content = content[:at] + rng.choice(ODD_BYTES) + content[end:]
    if rng.random() < 0.1:
        content = content[: rng.randrange(len(content) + 1)]
    return content


def spoiled_table(content: bytes, rng: Random) -> bytes:
    """Spoil cells, rows and columns of a CSV, or its bytes."""
    if rng.random() < 0.4:
        return spoiled_bytes(content, rng)
    rows = [line.split(",") for line in content.decode().splitlines()]
    for _ in range(rng.randint(1, 3)):
        row = rng.choice(rows)
        at = rng.randrange(len(row))
        what = rng.randrange(6)
        if what <= 1:
            row[at] = _cell(rng)
        elif what == 2:
            rows.insert(rng.randrange(len(rows)), list(row))
        elif what == 3 and len(rows) > 2:
            rows.remove(row)
        elif what == 4:
            for each in rows:
                each[at : at + 1] = [_cell(rng)] if rng.random() < 0.5 else []
        else:
            rows[1:] = rows[1:] * rng.choice((2, 3, 40))
        rows = [each for each in rows if each] or [[""]]
    return "\n".join(",".join(row) for row in rows).encode("utf-8", "surrogatepass")


def _cell(rng: Random) -> str:
    value = rng.choice(ODD_VALUES)
    return value if isinstance(value, str) else repr(value)


def spoiled_json(content: bytes, rng: Random) -> bytes:
    """Put odd values into a document, take some out, nest it deeply, or spoil its bytes."""
    if rng.random() < 0.2:
        return spoiled_bytes(content, rng)
    document = json.loads(content)
    for _ in range(rng.randint(1, 3)):
        places = list(_places(document))
        if not places:
            break
        holder, key = rng.choice(places)
        what = rng.randrange(5)
        if what <= 1:
            holder[key] = rng.choice(ODD_VALUES)
        elif what == 2:
            del holder[key]
        elif what == 3 and isinstance(holder, list):
            holder.insert(key, holder[rng.randrange(len(holder))])
        else:
            holder[key] = rng.choice(places)[0]
        document = json.loads(json.dumps(document, default=str, check_circular=False)[:500_000]
                              if not _loops(document) else content)  # fmt: skip
    if rng.random() < 0.02:
        return b"[" * 5000
    return json.dumps(document).encode()


def _places(value: Any) -> Any:
    """Every holder and key below a value."""
    keys = range(len(value)) if isinstance(value, list) else list(value)
    for key in keys:
        yield value, key
        if isinstance(value[key], list | dict):
            yield from _places(value[key])


def _loops(value: Any, above: tuple[int, ...] = ()) -> bool:
    if not isinstance(value, list | dict):
        return False
    if id(value) in above:
        return True
    held = value if isinstance(value, list) else value.values()
    return any(_loops(each, (*above, id(value))) for each in held)


def spoiled_workbook(content: bytes, rng: Random) -> bytes:
    """Spoil a part of a workbook, or the archive that holds it."""
    if rng.random() < 0.3:
        return spoiled_bytes(content, rng)
    spoiled = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(spoiled, "w") as new:
        names = old.namelist()
        target = rng.choice([name for name in names if name.endswith(".xml")])
        for name in names:
            part = old.read(name)
            new.writestr(name, spoiled_bytes(part, rng) if name == target else part)
    return spoiled.getvalue()


def odd_option(rng: Random) -> str:
    """Return what somebody may type behind an option."""
    value = rng.choice((*ODD_VALUES, "D01", "D01 D01", "D01+D02+D03+D04", "1e5", "3", "0.2", "2,5"))
    return str(value)[: rng.choice((10, 100, 6000))]


SPOILS: dict[str, Callable[[bytes, Random], bytes]] = {
    ".csv": spoiled_table,
    ".toml": spoiled_bytes,
    ".json": spoiled_json,
    ".xlsx": spoiled_workbook,
}
