"""The script that opens the bench page by a double click."""

import os
import stat
import subprocess

import pytest

from optimizer.io.files import write_all_new
from optimizer.io.launcher import launcher


@pytest.mark.skipif(os.name != "posix", reason="there is no shell")
@pytest.mark.parametrize("platform", ["linux", "darwin"])
def test_it_starts_its_interpreter_in_its_own_folder(tmp_path, platform):
    python = tmp_path / "it's $HOME (x)" / "python"
    python.parent.mkdir()
    name, text = launcher(platform, str(python))
    script = tmp_path / "my clutch" / name
    write_all_new({script: text, python: '#!/bin/sh\npwd\necho "$@"\n'})
    assert script.stat().st_mode & stat.S_IXUSR
    told = subprocess.run([script, "--phone"], capture_output=True, text=True, check=True).stdout
    assert told.splitlines() == [
        str(script.parent), "-P -m optimizer.cli.entry open . --phone",
    ]  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="there is no shell")
def test_where_its_interpreter_is_gone_it_starts_the_command(tmp_path):
    name, text = launcher("linux", str(tmp_path / "gone"))
    write_all_new({tmp_path / name: text, tmp_path / "bin" / "evenstack": '#!/bin/sh\necho "$@"\n'})
    path = f"{tmp_path / 'bin'}:{os.environ['PATH']}"
    told = subprocess.run(
        [tmp_path / name], capture_output=True, text=True, check=True, env={"PATH": path}
    )
    assert told.stdout == "open .\n"


def test_on_windows_it_is_a_batch_file():
    name, text = launcher("win32", "C:\\100% mine\\python.exe")
    assert name == "bench.bat"
    assert '"C:\\100%% mine\\python.exe" -P -m optimizer.cli.entry open . %*\r\n' in text
    assert text.count("\n") == text.count("\r\n")
