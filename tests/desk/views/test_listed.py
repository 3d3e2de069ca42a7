"""The last step of an import with names."""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import call_command
from django.db import OperationalError
from django.urls import reverse
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from core.models import LongWork
from inventory.models import ImportBatch, Instrument
from inventory.services.importing import publish_import
from loans.models import Loan, Student
from tests.factories import NOW, TODAY, make_instrument, make_student
from tests.inventory.services.importing.makers import make_judged

pytestmark = pytest.mark.django_db
LIST = b"Tag,Instrument,Assigned To\nA1,Tpt,Max Elm\nA2,Flute,Bo Birch\n"


def test_namesakes_are_asked_and_what_is_confirmed_is_written(client, school, director):
    first, second = (make_student(school=school, name="Max Elm", grade=grade) for grade in "68")
    batch = make_judged(school=school, data=LIST, actor=director)
    page = reverse("desk:listed", args=[batch.pk])
    client.force_login(director)
    assert page in client.get(reverse("inventory:import-batch", args=[batch.pk])).text
    form = client.get(page).context["form"]
    assert [choice for choice, _words in form["who-2"].field.choices] == [
        "",
        str(first.pk),
        str(second.pk),
        "new",
        "staff",
        "group",
        "nobody",
    ]
    typed = {"since": "2026-09-01", "due_on": form["due_on"].initial.isoformat(), "signed": "to_sign", "who-3": "new"}
    refused = client.post(page, typed)
    assert refused.status_code == 422
    assert "Choose who this is." in refused.text
    assert not Instrument.objects.exists()
    done = client.post(page, typed | {"who-2": str(second.pk), "is_trusted": "on"}, follow=True)
    assert "2 instruments registered; 2 of them are out." in done.text
    assert Loan.objects.get(instrument__asset_number="A1").student == second
    assert Student.objects.get(name="Bo Birch").grade == "?"
    assert client.get(page).url == client.post(page, typed).url == reverse("inventory:import-batch", args=[batch.pk])


def test_an_adult_of_the_list_is_shown_as_one_and_lent_to_without_a_grade(client, school, director):
    data = b"Tag,Instrument,Assigned To,Grade\nA1,Tpt,Mr. Max Elm,staff\nA2,Flute,Bo Birch,6\nA3,Tuba,Elks Band,\n"
    batch = make_judged(school=school, data=data, actor=director)
    page = reverse("desk:listed", args=[batch.pk])
    client.force_login(director)
    shown = client.get(page)
    assert [person.name for person, _field in shown.context["asked"]] == ["Mr. Max Elm"]
    form = shown.context["form"]
    assert [form[f"who-{row}"].initial for row in (2, 3, 4)] == ["staff", "new", "new"]
    typed = {"since": "2026-09-01", "due_on": form["due_on"].initial.isoformat(), "signed": "to_sign"}
    client.post(page, typed | {"who-2": "staff", "who-3": "new", "who-4": "group"})
    borrowers = Loan.objects.order_by("instrument__asset_number").values_list("student__who", "student__grade")
    assert list(borrowers) == [("staff", ""), ("student", "6"), ("group", "")]


def test_a_list_without_names_asks_for_nobody_and_may_be_taken_on_trust(client, school, director):
    batch = make_judged(school=school, data=b"Instrument\nTpt\n", actor=director)
    page = reverse("desk:listed", args=[batch.pk])
    client.force_login(director)
    form = client.get(page).context["form"]
    typed = {"due_on": form["due_on"].initial.isoformat(), "signed": "to_sign", "is_trusted": "on"}
    done = client.post(page, typed | {"cleaned_on": "2026-09-01", "cleaned_by": "us"}, follow=True)
    assert "1 instrument registered." in done.text
    assert Instrument.objects.get().readiness == "may_go_out"


def test_rows_registered_before_are_shown_apart_and_only_lent(client, school, director):
    make_judged(school=school, data=LIST, actor=director)
    publish_import(batch=ImportBatch.objects.get(), actor=director, at=NOW, today=TODAY)
    batch = make_judged(school=school, data=LIST, actor=director)
    page = reverse("desk:listed", args=[batch.pk])
    client.force_login(director)
    assert page in client.get(reverse("inventory:import-batch", args=[batch.pk])).text
    shown = client.get(page)
    for words in ("2 of them were registered before", "Make 2 loans"):
        assert words in shown.text
    assert "May they go out?" not in shown.text
    assert not Loan.objects.exists()
    typed = {
        "since": "2026-09-01",
        "due_on": shown.context["form"]["due_on"].initial.isoformat(),
        "signed": "elsewhere",
    }
    done = client.post(page, typed | {"who-2": "new", "who-3": "new"}, follow=True)
    assert "2 instruments that were registered before are out now." in done.text
    assert Loan.objects.count() == Instrument.objects.count() == 2
    again = make_judged(school=school, data=LIST, actor=director)
    shown = client.get(reverse("desk:listed", args=[again.pk])).text
    assert "2 rows name the person who already has the instrument" in shown
    assert "Make" not in shown


TYPED = {
    "since": "2026-09-01",
    "due_on": f"{TODAY.year + 1}-06-04",
    "signed": "elsewhere",
    "who-2": "new",
    "who-3": "new",
}
CLEANED = {"is_trusted": "on", "cleaned_on": "2026-08-20", "cleaned_by": "Fay Oak"}
DONE = "2 instruments registered; 2 of them are out."


@pytest.fixture
def long(client, school, director, monkeypatch):
    """A list that takes too long for its request, and the page that asks who has what."""
    monkeypatch.setattr("desk.views.listed.ROWS_AT_ONCE", 3)
    client.force_login(director)
    return reverse("desk:listed", args=[make_judged(school=school, data=LIST, actor=director).pk])


def work() -> LongWork:
    call_command("work", once=True, stdout=io.StringIO())
    return LongWork.objects.latest("pk")


def written() -> tuple[int, int, int]:
    return Instrument.objects.count(), Student.objects.count(), Loan.objects.count()


@pytest.mark.parametrize("killed", ["", "desk.tasks.finish_work", "core.long_work.finish_work"])
def test_a_long_list_is_registered_by_the_worker_once_whenever_it_was_killed(client, long, monkeypatch, killed):
    """Common practice, no source. It stops before its end is noted, with nothing saved, or after it."""
    batch = ImportBatch.objects.get()
    listed = reverse("inventory:import-batch", args=[batch.pk])
    asked = {client.post(long, TYPED | CLEANED).url, client.post(long, TYPED | {"who-3": "nobody"}).url}
    row = LongWork.objects.get()
    assert asked | {client.get(long).url, client.get(listed).url} == {f"/progress/{row.pk}/"}, "one at a time"
    assert not any(name in json.dumps(row.arguments) for name in ("Elm", "Birch", "Oak")), "keys, codes and days alone"
    assert written() == (0, 0, 0)
    if killed:
        with monkeypatch.context() as stopped:
            stopped.setattr(killed, lambda *_row, **_end: (_ for _ in ()).throw(OperationalError))
            is_saved = work().finished_at is not None
        assert is_saved is (killed == "core.long_work.finish_work")
        assert written() == ((2, 2, 2) if is_saved else (0, 0, 0))
        DBTaskResult.objects.update(status=TaskResultStatus.RUNNING)
    row = work()
    assert (row.message, row.is_failed, row.result_url) == (DONE, False, listed)
    assert written() == (2, 2, 2)
    batch.refresh_from_db()
    assert (batch.cleaned_by, str(batch.cleaned_on), batch.trusted_until is None) == ("Fay Oak", "2026-08-20", False)
    assert "2 instruments" in client.get(listed).text


def test_what_the_worker_refuses_is_answered_where_it_was_asked_with_all_that_was_typed(client, long, school):
    """Common practice, no source."""
    student, twin = (make_student(school=school, name="Max Elm", grade=grade) for grade in "78")
    answers = TYPED | {"who-2": str(student.pk)} | CLEANED
    client.post(long, answers)
    taken = make_instrument(school=school, asset_number="A1")
    row = work()
    assert (row.is_failed, written()) == (True, (1, 2, 0))
    assert row.result_url in client.get(f"/progress/{row.pk}/").text
    page = client.get(row.result_url)
    form = page.context["form"]
    assert form.non_field_errors() == [row.message]
    assert "taken in the meantime" in page.text
    assert {name: form[name].value() for name in answers} == answers | {"is_trusted": True}
    assert "taken in the meantime" not in client.get(long).text, "whoever comes from the list is not told again"
    Instrument.objects.filter(pk=taken.pk).update(asset_number="Z1")
    Student.objects.filter(pk=student.pk).update(left_on=TODAY)
    client.post(f"/progress/{row.pk}/again/")
    row = work()
    assert (row.is_failed, written()) == (True, (1, 2, 0))
    assert list(client.get(row.result_url).context["form"].errors) == ["who-2"]
    client.post(row.result_url, answers | {"who-2": str(twin.pk)})
    assert work().message == DONE
    assert Loan.objects.get(instrument__asset_number="A1").student == twin
