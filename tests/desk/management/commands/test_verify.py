"""``manage.py verify``: says what differs, and ends with 1 if anything does."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django_tasks_db.models import DBTaskResult

from core.archives import make_key, public_text
from core.events import record_event
from core.models import Event
from inventory.models import Instrument
from loans.tasks import make_paper
from tests.core.archives.makers import KEY, make_archive, rewrite
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


@pytest.fixture
def archive(tmp_path):
    return make_archive(tmp_path / "year.zip")


def test_an_archive_is_checked_without_a_database(capsys, archive):
    """No mark gives this test a database: a query would fail it."""
    call_command("verify", archive=archive, json=True)
    told = json.loads(capsys.readouterr().out)
    assert told == {"files": 3, "entries": 3, "public_key": public_text(KEY.public_key()), "differences": []}
    call_command("verify", archive=archive)
    assert "Compare it with the key that was printed" in capsys.readouterr().out


def test_an_archive_that_differs_names_the_file_and_ends_with_one(capsys, archive):
    rewrite(archive, lambda files: files.update({"register.csv": b""}))
    with pytest.raises(CommandError) as ended:
        call_command("verify", archive=archive)
    assert ended.value.returncode == 1
    assert capsys.readouterr().out.startswith("register.csv: is not as it was when the archive was signed\n")


def test_an_archive_signed_with_another_key_ends_with_one(capsys, archive, tmp_path):
    other = make_key(tmp_path / "other.key")
    with pytest.raises(CommandError) as ended:
        call_command("verify", archive=archive, public_key=other)
    assert ended.value.returncode == 1
    assert "it was signed with another key" in capsys.readouterr().out


@pytest.mark.parametrize("given", [{"archive": "none.zip"}, {"archive": __file__}, {"public_key": "A" * 44}])
def test_what_cannot_be_read_ends_with_two(given):
    with pytest.raises(CommandError) as ended:
        call_command("verify", **{name: Path(one) if name == "archive" else one for name, one in given.items()})
    assert ended.value.returncode == 2
