"""A plan file is validated whole, once, where it is read."""

import json
from copy import deepcopy
from dataclasses import dataclass

import pytest

from optimizer.errors import InputError
from optimizer.io.documents import document, read_own, read_plan, to_json
from tests.report.plans import dealt


@pytest.fixture(scope="module")
def good():
    return json.loads(to_json(dealt()[0]))


def stack(plan, number=0):
    return plan["sets"][0]["stacks"][number]


def twice(plan):
    stack(plan, 1)["packets"][0] = stack(plan)["packets"][0]


ATTACKS = [
    (twice, "twice"),
    (lambda p: stack(p).update(packets=[]), "packets of one to three"),
    (lambda p: stack(p).update(packets=[[]]), "packets of one to three"),
    (lambda p: stack(p).update(packets=[["a", "b", "c", "d"]]), "packets of one to three"),
    (lambda p: stack(p).update(packets=[[["a"]]]), "sets.0.stacks.0.packets.0.0"),
    (lambda p: stack(p).update(packets=[[7]]), "sets.0.stacks.0.packets.0.0"),
    (lambda p: stack(p).update(shims_mm=[-100.0]), "Expected shims above 0"),
    (lambda p: stack(p).update(shims_mm=["0.2"]), "sets.0.stacks.0.shims_mm.0"),
    (lambda p: stack(p).update(shoe="1"), "sets.0.stacks.0.shoe"),
    (lambda p: stack(p).update(shoe=99), "Expected shoes 1 to"),
    (lambda p: stack(p, 1).update(shoe=1), "Expected shoes 1 to"),
    (lambda p: stack(p).update(working_load_n=float("nan")), "sets.0.stacks.0.working_load_n"),
    (lambda p: stack(p).update(working_load_n=float("inf")), "ordinary size"),
    (lambda p: p.update(sets={}), "sets"),
    (lambda p: p.pop("unused"), "unused: Field required"),
    (lambda p: p.update(version="x" * 100_000, seed="y" * 100_000), " ..."),
]


@pytest.mark.parametrize(("attack", "says"), ATTACKS)
def test_what_is_no_plan_is_refused_by_its_place(good, tmp_path, attack, says):
    plan = deepcopy(good)
    attack(plan)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan))
    with pytest.raises(InputError) as caught:
        read_plan(path)
    assert says in str(caught.value)
    assert len(str(caught.value)) < 600


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        '{"a":' * 50_000,
        "9" * 10_000,
        '{"schema": 1e999}',
        "\ud800".encode("utf-8", "surrogatepass"),
    ],
)
def test_what_is_hardly_json_is_refused_too(tmp_path, text):
    path = tmp_path / "plan.json"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError):
        read_plan(path)


def test_no_document_holds_a_number_that_is_none():
    with pytest.raises(ValueError, match="JSON compliant"):
        document({"load_n": float("nan")})


def test_a_plan_of_before_is_read_by_the_keys_it_had(tmp_path):
    plan, path = dealt()[0], tmp_path / "plan.json"
    said = to_json(plan)
    assert "odds" not in said
    path.write_text(said.replace('"chance_', '"odds_'), encoding="utf-8")
    assert to_json(read_plan(path)) == said


def test_a_plan_reads_back_as_it_was(good, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(good))
    assert json.loads(to_json(read_plan(path))) == good


@dataclass(frozen=True)
class Kept:
    columns: dict[str, str]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ('{"schema": "a/1", "columns": {"t": "thickness_mm"}}', Kept({"t": "thickness_mm"})),
        ('{"schema": "a/2", "columns": {}}', None),
        ('{"schema": "a/1", "columns": {"t": 1}}', None),
        ('{"schema": "a/1"}', None),
        ("[]", None),
        ("[" * 99_999, None),
        ("{", None),
        ('{"schema": "a/1", "columns": {"t": "' + "x" * 200 + '"}}', None),
    ],
    ids=range(8),
)
def test_a_document_that_nobody_misses_is_read_or_left(tmp_path, text, read):
    path = tmp_path / "kept.json"
    assert read_own(path, Kept, "a/1") is None
    path.write_text(text)
    assert read_own(path, Kept, "a/1", most=200) == read
