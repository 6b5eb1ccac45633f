"""A browser without a screen: a client of the page that has come in, and its forms."""

from __future__ import annotations

import re
import time
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

from starlette.testclient import TestClient

from optimizer.page.app import application
from optimizer.page.doors import Doors
from optimizer.page.folder import Folder
from optimizer.page.house import House

PORT = 8700
HERE = f"http://127.0.0.1:{PORT}"
ORIGIN = {"origin": HERE}


def house_of(folder: Path, lan: str | None = None) -> House:
    return House(Folder.of(folder), Doors(PORT, lan))


def stranger(house: House, peer: str = "127.0.0.1") -> TestClient:
    """Somebody who has no key yet."""
    app = application(house)
    return TestClient(app, base_url=HERE, client=(peer, 50000), follow_redirects=False)


class Visit:
    """Somebody who has come in, and looks at one page at a time."""

    def __init__(self, folder: Path):
        self.house = house_of(folder)
        self.client = stranger(self.house)
        entered = self.client.get(f"/enter?key={self.house.doors.start_key}")
        assert entered.status_code == 303
        self.client.follow_redirects = True
        self.answer = entered

    def get(self, url: str):
        self.answer = self.client.get(url)
        return self.answer

    def post(self, url: str, data: dict | None = None, files=None):
        self.answer = self.client.post(url, data=data or {}, files=files, headers=ORIGIN)
        return self.answer

    @property
    def words(self) -> str:
        """What is read on the page."""
        return said(self.answer.text)

    def matched(self) -> str:
        """Match and wait; return the name of the plan's folder."""
        self.post("/c/this/match/start", {"sets": "1"})
        run = self.worked("this")
        assert not run.problems, run.problems
        return run.folder

    def worked(self, name: str):
        """Wait for work to end; return its run."""
        run = self.house.works.of(name)
        until = time.monotonic() + 60
        while not run.ended and time.monotonic() < until:
            time.sleep(0.02)
        assert run.ended
        return run

    def read(self, plan: str, number: int, shoe: int, kind: str, load, **more):
        data = {"round": number, "shoe": shoe, "kind": kind, "load": load, **more}
        return self.post(f"/c/this/p/{plan}/1/reading", data)


class _Words(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str):
        self.found.append(data)


def said(html: str) -> str:
    """Text of a page, without tags and without runs of spaces."""
    parser = _Words()
    parser.feed(html)
    return re.sub(r"\s+", " ", unescape(" ".join(parser.found)))
