"""``manage.py verify``: says what differs, and ends with 1 if anything does."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import timedelta

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django_tasks_db.models import DBTaskResult

from core.events import record_event
from core.models import Event
from inventory.models import Instrument
from loans.tasks import make_paper
from tests.factories import NOW, make_ready_instrument
from tests.loans.makers import make_agreement
from tests.opening import open_made
from tests.tampering import tamper


def test_all_is_well(capsys, school):
    make_ready_instrument(school=school)
    open_made()
    call_command("verify")
    assert capsys.readouterr().out == "1 instruments checked, 0 differences\n"


def test_a_tampered_column_is_named_and_ends_with_one(capsys, school):
    instrument = make_ready_instrument(school=school)
    open_made()
    Instrument.objects.filter(pk=instrument.pk).update(verdict="does_not_play")
    with pytest.raises(CommandError) as ended:
        call_command("verify")
    assert ended.value.returncode == 1
    assert f"{instrument.asset_number}: verdict is 'does_not_play', the facts say 'plays'" in capsys.readouterr().out


def test_differences_as_json(capsys, school):
    instrument = make_ready_instrument(school=school)
    open_made()
    Instrument.objects.filter(pk=instrument.pk).update(limits=["Nothing."])
    with pytest.raises(CommandError):
        call_command("verify", "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["instruments"] == 1
    assert len(told["differences"]) == 1
    assert Instrument.objects.get(pk=instrument.pk).limits == ["Nothing."]  # it tells and does not mend


@pytest.mark.django_db
def test_a_paper_in_the_making_is_listed_as_waiting_and_is_no_difference(capsys):
    agreement = make_agreement()
    make_paper.enqueue(agreement=agreement.pk)
    with suppress(CommandError):  # what makers made, no event told of
        call_command("verify", "--json")
    told = json.loads(capsys.readouterr().out)
    assert not [words for words in told["differences"] if "paper" in words]
    assert told["waiting"] == [f"loan {agreement.loan_id}: its paper is being made"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("queue", "says"),
    [
        (lambda _pk: None, "its paper is due, and nothing is queued to make it"),
        (lambda pk: make_paper.enqueue(agreement=pk, failures=3), "its paper could not be made, 3 times"),
        (
            lambda pk: (make_paper.enqueue(agreement=pk), DBTaskResult.objects.update(enqueued_at=NOW)),
            "has been due since",
        ),
    ],
    ids=["forgotten", "failed", "late"],
)
def test_a_paper_that_is_late_failed_or_forgotten_is_named(capsys, queue, says):
    queue(make_agreement().pk)
    with pytest.raises(CommandError):
        call_command("verify")
    assert says in capsys.readouterr().out


def test_the_end_of_the_log_is_one_line_and_nothing_else(capsys, school):
    make_ready_instrument(school=school)
    open_made()
    call_command("verify", "--head")
    last = Event.objects.newest_first()[0]
    assert capsys.readouterr().out == f"{last.number} {last.hash}\n"


def test_a_head_on_paper_finds_a_log_that_was_written_anew(capsys, school):
    make_ready_instrument(school=school)
    open_made()
    call_command("verify", "--head")
    printed = capsys.readouterr().out
    call_command("verify", "--head-was", printed)
    rows = list(Event.objects.order_by("number"))
    tamper("DELETE FROM core_event")
    tamper("DELETE FROM core_eventhead")
    for row in rows:  # the same acts, an hour later: whole in itself
        about = row.subject_type, row.subject_id
        new = Event(act=row.act, thread=row.thread, tenant=row.tenant)
        subject = apps.get_model(about[0])(pk=about[1])
        record_event(act=new.act, subject=subject, actor=row.actor, at=row.at + timedelta(hours=1), thread=new.thread,
                     tenant=new.tenant, before=row.before, after=row.after)  # fmt: skip
    capsys.readouterr()
    with pytest.raises(CommandError) as ended:
        call_command("verify", "--head-was", printed)
    assert ended.value.returncode == 1
    assert "had another hash when it was printed" in capsys.readouterr().out
