"""``manage.py verify``: says what differs, and ends with 1 if anything does."""

from __future__ import annotations

import json
from contextlib import suppress

import pytest
from django.core.management import CommandError, call_command
from django_tasks_db.models import DBTaskResult

from inventory.models import Instrument
from loans.tasks import make_paper
from tests.factories import NOW, make_ready_instrument
from tests.loans.makers import make_agreement


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
        (lambda pk: (make_paper.enqueue(agreement=pk), DBTaskResult.objects.update(enqueued_at=NOW)), "is due since"),
    ],
    ids=["forgotten", "failed", "late"],
)
def test_a_paper_that_is_late_failed_or_forgotten_is_named(capsys, queue, says):
    queue(make_agreement().pk)
    with pytest.raises(CommandError):
        call_command("verify")
    assert says in capsys.readouterr().out
