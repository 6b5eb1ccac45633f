import ast
from pathlib import Path

import pytest

from tests.mutants import mutate
from tests.mutants.mutate import mutants


@pytest.mark.parametrize(
    ("line", "wrong"),
    [
        ("x = a < b", {"x = a <= b"}),
        ("x = a + 2.0 * b", {"x = a - 2.0 * b", "x = a + 2.0 / b", "x = a + 2.2 * b"}),
        ("x = a and b", {"x = a or b", "x = a", "x = b"}),
        ("if a:\n    x = 1", {"if not a:\n    x = 1", "if a:\n    x = 2"}),
        ("x = not a", {"x = a"}),
        ("x += a", {"x -= a", "pass"}),
        ("x = max(a, key=b)", {"x = min(a, key=b)", "x = max(a)"}),
        ("while a:\n    break", {"while a:\n    pass"}),
        ("def f(a: int=1) -> 'b':\n    pass", {"def f(a: int=2) -> 'b':\n    pass"}),
        ("from a import b", set()),
        ("x = f'{a:.3f}' + zip(a, strict=True)", {"x = f'{a:.3f}' - zip(a, strict=True)"}),
    ],
)
def test_each_differs_in_one_place(line, wrong):
    assert {one.source for one in mutants(line)} == wrong


def test_they_are_told_by_function_line_and_turn():
    source = "def f(a):\n    '''Words.'''\n    return a + 1 - (a + 1)\n"
    told = [(m.function, m.line, m.before, m.after, m.turn) for m in mutants(source)]
    assert ("f", 3, "a + 1", "a - 1", 1) in told
    assert ("f", 3, "a + 1", "a - 1", 2) in told
    assert len(set(told)) == len(told)


def test_no_mutant_is_the_module_itself():
    source = Path(mutate.__file__).read_text(encoding="utf-8")
    own, found = ast.unparse(ast.parse(source)), list(mutants(source))
    assert len(found) > 50
    assert all(one.source != own for one in found)
