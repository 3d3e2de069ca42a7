"""``manage.py explain``: JSON alone on standard output."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Instrument
from tests.factories import make_inspection, make_instrument


def test_it_prints_json_alone(capsys, school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")])
    call_command("explain", instrument.asset_number)
    printed = capsys.readouterr()
    told = json.loads(printed.out)
    assert printed.err == ""
    assert told["asset_number"] == instrument.asset_number
    assert told["verdict"] == Instrument.objects.get(pk=instrument.pk).verdict
    assert {"kind", "whereabouts", "readiness", "reasons", "findings", "notes", "plan"} <= set(told)


def test_the_number_may_be_typed_in_small_letters(capsys, school):
    instrument = make_instrument(school=school)
    call_command("explain", f" {instrument.asset_number.lower()} ")
    assert json.loads(capsys.readouterr().out)["verdict"] == "not_inspected"


def test_a_number_nobody_has_ends_with_two_and_says_so(capsys, db):
    with pytest.raises(CommandError, match="no instrument TD-9999") as ended:
        call_command("explain", "td-9999")
    assert ended.value.returncode == 2
    assert capsys.readouterr().out == ""
