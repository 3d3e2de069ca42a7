"""The command that orders the rungs of a file."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def order(tmp_path, content: object, *, is_json: bool = True) -> str:
    file = tmp_path / "rungs.json"
    file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    out = StringIO()
    call_command("ladder_order", str(file), *(["--json"] if is_json else []), stdout=out)
    return out.getvalue()


def test_the_worked_example_is_printed_as_json_alone(tmp_path):
    """Chain A before B beside C: A B C costs 12.88 (computed by hand over all orders)."""
    rungs = [
        {"id": "C", "cost": 6, "p": 0.3},
        {"id": "A", "cost": 10, "p": 0.1},
        {"id": "B", "cost": 2, "p": 0.8, "after": ["A"]},
    ]
    told = json.loads(order(tmp_path, {"rungs": rungs}))
    assert told["order"] == ["A", "B", "C"]
    assert told["expected_cost"] == pytest.approx(12.88)
    assert (told["model"], told["exact"]) == ("independent remedies, stop at first success", True)


def test_without_json_it_is_a_sentence(tmp_path):
    rungs = [{"id": "A", "cost": 5, "p": 0.2}, {"id": "B", "cost": 20, "p": 0.5}, {"id": "C", "cost": 60, "p": 0.9}]
    assert order(tmp_path, {"rungs": rungs}, is_json=False).startswith("A → B → C: 45.00 on average")


def test_no_rungs_are_an_empty_order(tmp_path):
    assert json.loads(order(tmp_path, {"rungs": []}))["order"] == []


def rung(**overrides: object) -> dict[str, object]:
    return {"id": "A", "cost": 5, "p": 0.5} | overrides


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("not json", "is not JSON"),
        ("[" * 100_000, "is not JSON"),
        ([], "expected"),
        ({"rungs": {}}, "expected"),
        ({"rungs": [5]}, "expected an object"),
        ({"rungs": [rung(id=7)]}, "id must be a text"),
        ({"rungs": [rung(id="")]}, "id must be a text"),
        ({"rungs": [rung(), rung()]}, "given twice"),
        ({"rungs": [rung(cost=-1)]}, "below 0"),
        ({"rungs": [rung(cost="5")]}, "cost must be a number"),
        ({"rungs": [rung(cost=True)]}, "cost must be a number"),
        ({"rungs": [rung(cost=10**400)]}, "too large"),
        ('{"rungs": [{"id": "A", "cost": NaN, "p": 0.5}]}', "finite"),
        ({"rungs": [rung(p=0)]}, "not above 0"),
        ({"rungs": [rung(p=1.01)]}, "not above 0"),
        ({"rungs": [{"id": "A", "cost": 1}]}, "p must be a number"),
        ({"rungs": [rung(after="B")]}, "list of ids"),
        ({"rungs": [rung(after=["B"])]}, "not a rung here"),
        ({"rungs": [rung(after=["A"])]}, "circle"),
        ({"rungs": [rung(after=["B"]), rung(id="B", after=["A"])]}, "circle"),
        ({"rungs": [rung(afer=["B"])]}, "afer is not known"),
    ],
)
def test_bad_input_is_refused_with_its_reason_and_status_two(tmp_path, content, words):
    with pytest.raises(CommandError, match=words) as refusal:
        order(tmp_path, content)
    assert refusal.value.returncode == 2


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(CommandError, match="cannot be read") as refusal:
        call_command("ladder_order", str(tmp_path / "nothing.json"))
    assert refusal.value.returncode == 2


def test_bytes_that_are_no_text_are_refused(tmp_path):
    file = tmp_path / "rungs.json"
    file.write_bytes(b"\xff\xfe\x00\xd8")
    with pytest.raises(CommandError, match="is not JSON"):
        call_command("ladder_order", str(file))
