"""The last step of an import with names."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import ImportBatch, Instrument
from inventory.services.importing import publish_import
from loans.models import Loan, Student
from tests.factories import NOW, TODAY, make_student
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
    assert client.get(page).status_code == 404


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
    assert "2 rows name whoever has the instrument already" in shown
    assert "Make" not in shown
