"""``manage.py verify``: says what differs, and ends with 1 if anything does."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Instrument
from tests.factories import make_ready_instrument


def test_all_is_well(capsys, school):
    make_ready_instrument(school=school)
    call_command("verify")
    assert capsys.readouterr().out == "1 instruments checked, 0 differences\n"


def test_a_tampered_column_is_named_and_ends_with_one(capsys, school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(verdict="does_not_play")
    with pytest.raises(CommandError) as ended:
        call_command("verify")
    assert ended.value.returncode == 1
    assert f"{instrument.asset_number}: verdict is 'does_not_play', the facts say 'plays'" in capsys.readouterr().out


def test_differences_as_json(capsys, school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(limits=["Nothing."])
    with pytest.raises(CommandError):
        call_command("verify", "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["instruments"] == 1
    assert len(told["differences"]) == 1
    assert Instrument.objects.get(pk=instrument.pk).limits == ["Nothing."]  # it tells and does not mend
