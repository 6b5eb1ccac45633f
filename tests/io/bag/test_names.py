"""Names that are no names, and names that only look like something else."""

import pytest

from optimizer.cli import table
from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from tests.bags import plain_job

ROW = "{},20,10.2,0.9,0.5,sharp\n"
HEAD = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge\n"


@pytest.mark.parametrize("name", ["A\x1b[31m", "A\x07", "A\u200b"])
def test_characters_that_cannot_be_shown_are_refused(tmp_path, name):
    path = tmp_path / "bag.csv"
    path.write_text(HEAD + ROW.format(name), encoding="utf-8")
    with pytest.raises(InputError, match="cannot be shown") as caught:
        read_bag(path, plain_job())
    assert str(caught.value).isprintable()


def test_a_name_that_looks_like_markup_is_shown_as_it_is(monkeypatch, capsys):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    table.show_table(("disc", "load"), [("[/b]", "1"), ("[bold]Z9", "2")])
    said = capsys.readouterr().out
    assert "[/b]" in said
    assert "[bold]Z9" in said
