"""``manage.py refresh_state``: lists what would change; with --commit, writes it."""

from __future__ import annotations

from django.core.management import call_command

from core.models import Event
from inventory.models import Finding, Instrument
from repairs.models import CareNext
from repairs.selectors.care import care_differences
from tests.factories import TODAY, make_ready_instrument
from tests.opening import differences
from tests.repairs.money_makers import make_parts_instrument, make_taken


def test_a_dry_run_lists_what_would_change_and_writes_nothing(capsys, school):
    instrument = make_ready_instrument(school=school)
    make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(ready_until=None)
    before = Event.objects.count()
    call_command("refresh_state")
    said = capsys.readouterr().out
    assert f"{instrument.asset_number}: ready_until is None, the facts say" in said
    assert "1 instruments would change. Nothing was written" in said
    assert Instrument.objects.get(pk=instrument.pk).ready_until is None
    assert Event.objects.count() == before


def test_commit_mends_what_verify_reports_and_keeps_the_reason(capsys, school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(ready_until=None)
    call_command("refresh_state", "--commit", "--because", "Upgrade to the next version.")
    assert "1 instruments refreshed." in capsys.readouterr().out
    event = Event.objects.latest("number")
    assert (event.act, event.after["because"]) == ("refreshed", "Upgrade to the next version.")
    assert differences() == (1, [])


def test_days_of_care_that_no_longer_follow_are_listed_and_mended(capsys, school):
    instrument = make_ready_instrument(school=school)
    CareNext.objects.filter(instrument=instrument).update(much_on=TODAY)
    call_command("refresh_state")
    said = capsys.readouterr().out
    assert f"{instrument.asset_number}: care " in said
    assert "1 instruments would change. Nothing was written" in said
    assert list(care_differences())
    call_command("refresh_state", "--commit")
    assert "1 with other days of care." in capsys.readouterr().out
    assert list(care_differences()) == []


def test_what_was_taken_before_is_listed_and_then_missing_where_it_came_from(capsys, school):
    taken = make_taken(make_parts_instrument(school=school), onto=make_ready_instrument(school=school))[0]
    donor = taken.parts_instrument.instrument
    Finding.objects.filter(instrument=donor).delete()
    call_command("refresh_state", "--commit")
    assert "1 parts taken for others now count as missing" in capsys.readouterr().out
    assert Finding.objects.get(instrument=donor).note == f"Taken for {taken.onto.asset_number}."
    call_command("refresh_state")
    assert "0 instruments would change" in capsys.readouterr().out


def test_what_would_count_as_missing_is_listed_alone(capsys, school):
    taken = make_taken(make_parts_instrument(school=school), onto=make_ready_instrument(school=school))[0]
    donor = taken.parts_instrument.instrument
    Finding.objects.filter(instrument=donor).delete()
    Instrument.objects.filter(pk=donor.pk).update(verdict="plays", limits=[])
    call_command("refresh_state")
    assert f"bell flare and rim was taken for {taken.onto.asset_number}" in capsys.readouterr().out
    assert not Finding.objects.exists()
