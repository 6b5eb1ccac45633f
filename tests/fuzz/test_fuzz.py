"""A few hundred spoiled files; `python -m tests.fuzz 20000` plays more of the same."""

from pathlib import Path

import pytest

from tests.fuzz.play import play, prepare

FEW, PARTS = 32, 2


@pytest.mark.parametrize("part", range(PARTS))
def test_whatever_is_spoiled_there_is_one_clear_word(part: int, tmp_path: Path) -> None:
    files = prepare(tmp_path)
    for number in range(part, FEW, PARTS):
        played = play(number, tmp_path, files)
        assert not played.faults, (number, played)
