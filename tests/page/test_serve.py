"""The command itself: it listens where it says, and a kill leaves the folder whole."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from contextlib import contextmanager
from html import unescape
from pathlib import Path

import pytest

from optimizer.cli.init import init
from optimizer.cli.open import _asked_for
from optimizer.errors import InputError
from optimizer.face.sources import read_bag, read_job
from optimizer.page.doors import LOOPBACK, Doors, qr_text
from optimizer.page.folder import Folder
from optimizer.page.serve import listening


@contextmanager
def running(words):
    """A command in a process of its own; gives the process and the address that it printed."""
    plain = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=plain
    )
    try:
        line = process.stdout.readline()
        yield process, re.search(r"http://\S+", line)[0]
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


class Caller:
    """Just enough of a browser."""

    def __init__(self, address):
        base, _, _ = address.partition("/enter")
        self.base = base
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        self.front = self._said(address)

    def _said(self, url, data=None):
        request = urllib.request.Request(url, data, {"Origin": self.base})
        with self.opener.open(request, timeout=20) as answer:
            return answer.read().decode()

    def post(self, path, **data):
        return self._said(self.base + path, urllib.parse.urlencode(data).encode())


def test_it_serves_and_a_kill_leaves_all_that_was_accepted(planned, tmp_path):
    folder = tmp_path / "kart"
    shutil.copytree(planned, folder)
    words = [sys.executable, "-m", "optimizer.cli.main", "open", str(folder), "--no-browser"]
    with running(words) as (process, address):
        caller = Caller(address)
        assert "kart" in caller.front
        host = urllib.parse.urlsplit(address).netloc
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(f"http://{host}/c/this", timeout=20)
        disc = {"thickness": "0.905", "height": "0.48", "edge": "sharp", "od": "20", "id": "10.2"}
        for number in range(5):
            caller.post("/c/this/bag/add", disc=f"K{number}", **disc)
        reading = {"round": 1, "shoe": 1, "kind": "settled", "load": 895}
        caller.post("/c/this/p/match-1/1/reading", **reading)
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert ",895," in (folder / "match-1" / "readings.csv").read_text().splitlines()[-1]
    bag = read_bag(folder / "bag.csv", read_job(folder / "job.toml"))
    assert [disc.name for disc in bag.discs][-5:] == ["K0", "K1", "K2", "K3", "K4"]
    whole = {"bag.csv", "job.toml", "job.known.json", "match-1"}
    assert {p.name for p in folder.iterdir()} == whole


@pytest.mark.skipif(os.name != "posix", reason="the launcher of this system is no shell script")
def test_the_launcher_opens_its_folder_and_ctrl_c_ends_it_without_a_word_of_failure(tmp_path):
    folder = tmp_path / "it's my clutch"
    script = init(folder)[-1]
    (folder / "optimizer.py").write_text("raise SystemExit('taken for the program')")
    with running([str(script), "--no-browser"]) as (process, address):
        front = Caller(address).front
        assert "it's my clutch" in unescape(front)
        assert "There is no disc" not in front
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == 0


def test_without_a_folder_it_asks_for_one_and_makes_it(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", lambda _question, default: f"{tmp_path}/typed")
    assert _asked_for() == tmp_path / "typed"
    assert (tmp_path / "typed").is_dir()
    assert "Made the folder" in capsys.readouterr().out
    (tmp_path / "file").touch()
    monkeypatch.setattr("typer.prompt", lambda _question, default: f"{tmp_path}/file/below")
    with pytest.raises(InputError, match="cannot be made"):
        _asked_for()
    init(tmp_path / "below")
    monkeypatch.setattr("typer.prompt", None)
    assert _asked_for() == Path()  # there is a clutch in this folder


def test_without_a_terminal_it_takes_the_usual_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert _asked_for() == tmp_path / "home" / "evenstack"


def test_it_listens_on_this_machine_alone():
    doors, sockets = listening(None, False)
    try:
        assert [one.getsockname()[0] for one in sockets] == [LOOPBACK]
        assert doors.lan is None
    finally:
        for one in sockets:
            one.close()


def test_a_port_that_is_taken_is_told():
    with socket.socket() as taken:
        taken.bind((LOOPBACK, 0))
        taken.listen()
        with pytest.raises(InputError, match="is taken"):
            listening(taken.getsockname()[1], False)


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match="Expected a folder"):
        Folder.of(tmp_path / "none")


def test_the_code_is_drawn_in_the_terminal():
    address = Doors(8700, "192.0.2.7").phone
    rows = qr_text(address).splitlines()
    assert {len(line) for line in rows} == {2 * len(rows) - 1}  # two rows of the code a line
    assert rows[0] == rows[1] == "█" * len(rows[0])  # a quiet border
    assert {line[:4] for line in rows[:-1]} == {"█" * 4}
