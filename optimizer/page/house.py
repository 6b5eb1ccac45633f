"""What the server holds: the folder, who may come in, work that runs, and advice worked out."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import blake2b
from pathlib import Path
from typing import TypeVar

from optimizer.face.sources import read_job
from optimizer.page.brought import Brought
from optimizer.page.doors import Doors, new_key
from optimizer.page.folder import ClutchFolder, Folder, known_file
from optimizer.page.pace import Pace
from optimizer.page.works import Works, names

T = TypeVar("T")
#: values worked out, and tables brought, that are kept, newest last
MOST_KEPT, MOST_TRAYS = 60, 4
#: files whose change is a change of what the page shows
WATCHED = (
    "*.toml", "*.csv", "*.xlsx", "*.json", "*/plan.json", "*/readings*.csv", "*/page.json",
    "*/order.json",
)  # fmt: skip


@dataclass
class House:
    """The state of one server; nothing in it outlives the server but what is in files.

    `trays` hold tables that were brought and looked at, but not put away yet.
    """

    folder: Folder
    doors: Doors
    works: Works = field(default_factory=Works)
    pace: Pace = field(default_factory=Pace)
    closing: bool = False
    trays: OrderedDict[str, Brought] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _locks: dict[str, threading.RLock] = field(default_factory=dict)
    _kept: OrderedDict[Hashable, object] = field(default_factory=OrderedDict)

    @contextmanager
    def holding(self, clutch: str) -> Iterator[None]:
        """Let one at a time change the files of a clutch."""
        with self._lock:
            lock = self._locks.setdefault(clutch, threading.RLock())
        with lock:
            yield

    def once(self, key: Hashable, work: Callable[[], T]) -> T:
        """Return what was worked out for a key, or work it out."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]  # type: ignore[return-value]
        done = work()
        with self._lock:
            self._kept[key] = done
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return done

    def put(self, brought: Brought) -> str:
        """Keep a table that was brought until it is put away; return the word for it."""
        word = new_key()
        with self._lock:
            self.trays[word] = brought
            while len(self.trays) > MOST_TRAYS:
                self.trays.popitem(last=False)
        return word

    def state_of(self, clutch: ClutchFolder | None) -> str:
        """Return a word that changes with the files of a clutch and with work done for it."""
        said = blake2b(digest_size=8)
        places = [clutch.folder] if clutch else [self.folder.root]
        for place in places:
            for pattern in WATCHED:
                for path in sorted(place.glob(pattern)):
                    said.update(_signature(path))
        if clutch:
            for work in names(clutch.name):
                said.update(str(self.works.changes(work)).encode())
        return said.hexdigest()


def _signature(path: Path) -> bytes:
    try:
        stat = path.stat()
    except OSError:
        return b""
    return f"{path.name}/{path.parent.name}:{stat.st_mtime_ns}:{stat.st_size};".encode(
        errors="replace"
    )


def version(path: Path) -> str:
    """Return a word for the content of a file, another one after every change of it."""
    try:
        return blake2b(path.read_bytes(), digest_size=8).hexdigest()
    except FileNotFoundError:
        return "none"


def rests_on(clutch: ClutchFolder, plan: Path | None = None) -> str:
    """Return a word for what work on a clutch rests on: once it is another, its answer is stale."""
    files = (clutch.job, read_job(clutch.job).bag_file, known_file(clutch.job), plan)
    return "-".join(version(path) for path in files if path)
