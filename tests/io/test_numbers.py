import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.io.numbers import NotANumber, parse_number


@given(st.floats(-1e6, 1e6).filter(lambda x: x == 0 or abs(x) > 1e-9), st.booleans())
def test_point_or_comma_mark_decimals(value, comma):
    text = repr(value)
    assert parse_number(text.replace(".", ",") if comma else text) == value


@pytest.mark.parametrize(("text", "value"), [("+1", 1), (".5", 0.5), ("1,", 1), ("2e-3", 0.002)])
def test_short_forms(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("1.234,5", "one decimal mark"),
        ("1,234.5", "one decimal mark"),
        ("1.234.5", "one decimal mark"),
        ("1.05 mm", "number alone"),
        ('0.041"', "number alone"),
        ("01. May", "date"),
        ("2024-05-01 00:00:00", "date"),
        ("nan", "plain number"),
        ("inf", "plain number"),
        ("1e999", "ordinary size"),
        ("", "Fill"),
        ("#REF!", "plain number"),
        ("1_000", "plain number"),
    ],
)
def test_anything_else_is_refused_with_a_remedy(text, remedy):
    with pytest.raises(NotANumber, match=remedy):
        parse_number(text)


@given(st.text(max_size=12))
def test_any_text_is_a_finite_number_or_refused(text):
    try:
        value = parse_number(text)
    except NotANumber:
        return
    assert abs(value) < float("inf")
