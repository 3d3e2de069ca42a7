"""``manage.py value``: JSON alone on standard output, money as texts with two places, bad input ends with two."""

from __future__ import annotations

import json
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from core.models import Event
from inventory.services.registering import change_instrument
from tests.factories import make_instrument, make_school

pytestmark = pytest.mark.django_db

MONEY = ("acquisition", "book", "replacement", "condition_adjusted")


def told(capsys, *arguments: str) -> dict:
    call_command("value", *arguments, "--json")
    printed = capsys.readouterr()
    assert printed.err == ""
    return json.loads(printed.out)


@pytest.fixture
def fleet(director, school):
    """Two trumpets of July 2018, one at another school and one without a cost."""
    given = {"acquired_on": date(2018, 7, 1), "year_made": 2018}
    first = make_instrument(school=school, acquisition_cost_amount=Decimal(750), **given)
    make_instrument(school=make_school(code="OAK"), **given)
    return first


def test_it_prints_the_sums_and_the_same_by_school(capsys, fleet):
    """By hand: 96 of 180 months are gone, 750 x 84/180 = 350; (400 + 900) / 2 = 650; 650 - 585 x 8/15 = 338."""
    found = told(capsys, "--on", "2026-06-30")
    assert {name: found[name] for name in ("on", "as_known_on", "instruments", *MONEY)} == {
        "on": "2026-06-30", "as_known_on": None, "instruments": 2, "acquisition": "750.00", "book": "350.00",
        "replacement": "1300.00", "condition_adjusted": "676.00",
    }  # fmt: skip
    assert list(found["by_school"]) == ["ELM", "OAK"]
    oak = found["by_school"]["OAK"]
    assert (oak["instruments"], oak["acquisition"], oak["without_cost"]) == (1, "0.00", 1)
    for name in MONEY:
        assert Decimal(found[name]) == sum(Decimal(school[name]) for school in found["by_school"].values())


def test_an_empty_day_has_sums_of_nothing(capsys, fleet):
    found = told(capsys, "--on", "2018-06-30")
    assert (found["instruments"], found["book"], found["by_school"]) == (0, "0.00", {})


def test_it_is_told_as_it_was_known_on_a_day(capsys, fleet, director):
    now = timezone.now()
    change_instrument(instrument=fleet, actor=director, at=now, acquisition_cost_amount=Decimal("9.99"))
    yesterday = (timezone.localdate(now) - timedelta(days=1)).isoformat()
    assert told(capsys, "--on", "2018-07-01")["acquisition"] == "9.99"
    known = told(capsys, "--on", "2018-07-01", "--as-known-on", yesterday)
    assert (known["acquisition"], known["as_known_on"]) == ("750.00", yesterday)


def test_it_writes_nothing(capsys, fleet):
    before = Event.objects.count()
    told(capsys, "--on", "2026-06-30", "--as-known-on", "2026-09-01")
    assert Event.objects.count() == before


def test_without_json_it_is_lines_to_read(capsys, fleet):
    call_command("value", "--on", "2026-06-30")
    first = capsys.readouterr().out.splitlines()[0]
    assert first == "all: 2 instruments; acquisition $750, book $350, replacement $1,300, condition adjusted $676"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--on", "2026-02-30"], "--on: '2026-02-30' is not a date. Write it as 2026-06-30."),
        (["--on", "20260630"], "is not a date"),
        (["--on", ""], "is not a date"),
        (["--on", "1899-12-31"], "not between 1900-01-01 and 2100-12-31"),
        (["--on", "2026-06-30", "--as-known-on", "June"], "--as-known-on: 'June' is not a date"),
        (["--on", "2026-06-30", "--as-known-on", ""], "--as-known-on: '' is not a date"),
        (["--on", "2026-06-30", "--as-known-on", "2100-01-01"], "in the future"),
    ],
)
def test_what_is_no_day_ends_with_two_and_says_so(capsys, fleet, arguments, words):
    with pytest.raises(CommandError, match=words) as ended:
        call_command("value", *arguments, "--json")
    assert ended.value.returncode == 2
    assert capsys.readouterr().out == ""
