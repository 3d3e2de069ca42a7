"""The command that finds an economic life in a file."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

UPKEEP = [900 * year + 500 + 400 * year for year in range(8)]


def life(tmp_path, content: object, *, is_json: bool = True) -> str:
    file = tmp_path / "life.json"
    file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    out = StringIO()
    call_command("economic_life", str(file), *(["--json"] if is_json else []), stdout=out)
    return out.getvalue()


def figures(**changed: object) -> dict[str, object]:
    return {"purchase": 7500, "rate": 0.08, "upkeep": UPKEEP} | changed


def test_the_textbook_s_example_is_printed_as_json_alone(tmp_path):
    """Newnan, Eschenbach and Lavelle, Engineering Economic Analysis, Example 13-1: 4 years, $4,589 by rounded factors."""
    assert json.loads(life(tmp_path, figures())) == {
        "life": 4,
        "annual_cost": "4589.55",
        "curve": ["8600.00", "5330.77", "4643.62", "4589.55", "4778.84", "5081.62", "5442.31", "5833.19"],
    }


@pytest.mark.parametrize("changed", [{"salvage": [0] * 8}, {"salvage": None}, {"purchase": "7500.00", "rate": "0.08"}])
def test_salvage_left_out_is_nothing_and_numbers_may_stand_in_quotes(tmp_path, changed):
    assert life(tmp_path, figures(**changed)) == life(tmp_path, figures())


def test_numbers_are_read_exactly(tmp_path):
    """$1.005 is half a cent above $1.00 and rounds up; the nearest float is below it."""
    assert json.loads(life(tmp_path, '{"purchase": 1.005, "rate": 0, "upkeep": [0]}'))["annual_cost"] == "1.01"


def test_without_json_it_is_a_sentence(tmp_path):
    assert life(tmp_path, figures(), is_json=False) == "4 years: $4,589.55 a year\n"
    assert life(tmp_path, figures(upkeep=[1, 9999]), is_json=False) == "1 year: $8,101 a year\n"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("not json", "is not JSON"),
        ("[" * 100_000, "is not JSON"),
        ([], "expected an object"),
        ({"purchase": 1}, "rate, upkeep missing"),
        (figures(upkep=[]), "upkep is not known"),
        (figures(upkeep=[]), "from 1 to 200"),
        (figures(upkeep=5), "upkeep must be a list of numbers"),
        (figures(upkeep=[1, None]), "upkeep of year 2 must be a number"),
        (figures(upkeep=[True]), "upkeep of year 1 must be a number"),
        (figures(salvage=[1]), "the same years"),
        (figures(salvage="none"), "salvage must be a list"),
        (figures(purchase=None), "purchase must be a number"),
        (figures(purchase="much"), "purchase must be a number such as"),
        (figures(purchase=-1), "below 0"),
        (figures(rate=8), "rate 8 must be"),
        ('{"purchase": NaN, "rate": 0, "upkeep": [0]}', "purchase must be a number"),
        ('{"purchase": 1e400, "rate": 0, "upkeep": [0]}', "at most 15 digits"),
        ('{"purchase": 1e-99999999, "rate": 0, "upkeep": [0]}', "purchase must be a number"),
    ],
)
def test_bad_input_is_refused_with_its_reason_and_status_two(tmp_path, content, words):
    with pytest.raises(CommandError, match=words) as refusal:
        life(tmp_path, content)
    assert refusal.value.returncode == 2


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(CommandError, match="cannot be read") as refusal:
        call_command("economic_life", str(tmp_path / "nothing.json"))
    assert refusal.value.returncode == 2


def test_bytes_that_are_no_text_are_refused(tmp_path):
    file = tmp_path / "life.json"
    file.write_bytes(b"\xff\xfe\x00\xd8")
    with pytest.raises(CommandError, match="is not JSON"):
        call_command("economic_life", str(file))
