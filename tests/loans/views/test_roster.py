"""The pages of a roster: each step, what is refused, and that nothing of the file stays behind."""

from __future__ import annotations

import io
import json
from functools import partial

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from core.models import Event, LongWork
from inventory.services.people import remove_role
from loans.exceptions import RosterRefusedError
from loans.models import RosterChoice, Student
from loans.services import choose_courses
from loans.services.roster_files import FOLDER
from loans.views.roster import changes_for, import_sent
from tests.contests import at_once
from tests.factories import NOW, TODAY, make_school, make_student
from tests.loans.makers import make_loan
from tests.rosters import files_of, school_rows, zip_of

SEND, COURSES, COLUMNS, CHANGES, GIVE_UP = (
    reverse(f"loans:{name}")
    for name in ("roster", "roster-courses", "roster-columns", "roster-changes", "give-up-roster")
)
LIST = b"Last Name,First Name,Grade,ID\nRivera,Ana,9,40017\nOkafor,Ben,10,40018\n"
pytestmark = pytest.mark.django_db


@pytest.fixture
def inside(client, school, director):
    client.force_login(director)
    return client


def send(client, data, name="roster.zip"):
    return client.post(SEND, {"file": SimpleUploadedFile(name, data)})


def roster(**spoiled):
    files = files_of(school_rows())
    for name, (old, new) in spoiled.items():
        files[f"{name}.csv"] = files[f"{name}.csv"].replace(old, new)
    return zip_of(files).getvalue()


def kept():
    return default_storage.listdir(FOLDER)[1] if default_storage.exists(FOLDER) else []


def test_from_the_file_to_the_students(inside, school):
    before = set(kept())
    assert send(inside, roster()).url == COURSES
    page = inside.get(COURSES).text
    assert "Concert Band · MU101 · 2 students" in page
    assert inside.post(COURSES, {"courses": ["band"]}).url == CHANGES
    assert RosterChoice.objects.get().sourced_id == "band"
    page = inside.get(CHANGES).text
    assert "Rivera, Ana" in page
    assert "Stone" not in page
    assert not Student.objects.exists()
    done = inside.post(CHANGES, follow=True)
    assert "Imported: 2 new, 0 changed, 0 left, 0 left with an instrument out." in done.text
    assert set(Student.objects.values_list("school", "sourced_id")) == {(school.pk, "s-1"), (school.pk, "s-2")}
    assert set(kept()) == before
    assert inside.post(CHANGES).url == SEND  # sent twice: the file is gone
    assert Student.objects.count() == 2


@pytest.mark.parametrize("is_lost", [False, True])
def test_a_large_one_is_written_by_the_worker(inside, school, director, monkeypatch, is_lost):
    monkeypatch.setattr("loans.views.roster.MOST_AT_ONCE", 1)
    before = set(kept())
    make_student(school=school, name="Ana Rivera", grade="9")
    send(inside, LIST, "students.csv")
    inside.post(COLUMNS, {"column-0": "family", "column-1": "given", "column-2": "grade", "column-3": "number"})
    twin = next(iter(inside.get(CHANGES).context["form"].fields))
    asked = [inside.post(CHANGES, {twin: "same"}).url for _ in range(2)]  # the second while the first waits
    row = LongWork.objects.get()
    assert asked == [f"/progress/{row.pk}/"] * 2
    assert "Ana" not in json.dumps(row.arguments)
    assert Student.objects.count() == 1
    if is_lost:
        remove_role(held=director.staff_roles.get(), actor=None, at=NOW)
    work()
    row.refresh_from_db()
    if is_lost:
        assert (row.is_failed, Student.objects.count()) == (True, 1)
        return
    assert (row.message, row.result_url) == (
        "Imported: 1 new, 1 changed, 0 left, 0 left with an instrument out.", reverse("loans:students"),
    )  # fmt: skip
    assert Student.objects.count() == 2
    assert set(kept()) == before
    assert import_refused(row) == "The file is no longer kept. Send it again."


def large(inside, monkeypatch):
    monkeypatch.setattr("loans.views.roster.MOST_AT_ONCE", 1)
    send(inside, LIST, "students.csv")
    inside.post(COLUMNS, {"column-0": "family", "column-1": "given", "column-2": "grade", "column-3": "number"})
    inside.post(CHANGES)
    return LongWork.objects.latest("queued_at")


def give_up(inside):
    return " ".join(inside.post(GIVE_UP, follow=True).text.split())


def work():
    call_command("work", once=True, stdout=io.StringIO())


def test_given_up_before_the_worker_is_done_nothing_is_written_and_after_it_is_too_late(inside, school, monkeypatch):
    """One or the other, never half of each. Common practice, no source."""
    said = []

    def read(*given):
        found = changes_for(*given)
        said.append(give_up(inside))
        return found

    row = large(inside, monkeypatch)
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr("loans.views.roster.changes_for", read)
        work()
    row.refresh_from_db()
    assert "Nothing was imported." in said[0]
    assert (row.is_failed, Student.objects.exists()) == (True, False)
    files = [one.arguments["sent"]["file"] for one in (row, large(inside, monkeypatch))]
    work()
    late = give_up(inside)
    assert "It was too late to give up. Imported: 2 new" in late
    assert Student.objects.count() == 2
    assert not any(map(default_storage.exists, files))


@pytest.mark.drill
@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_given_up_while_the_worker_saves_one_of_both_wins(inside, monkeypatch):
    row = large(inside, monkeypatch)
    answers = at_once(partial(import_sent, row, timezone.now()), partial(give_up, inside))
    row.refresh_from_db()
    assert Student.objects.count() == (0 if row.is_failed else 2)
    assert ("too late" in answers[1]) is not row.is_failed


def import_refused(row):
    with pytest.raises(RosterRefusedError) as refusal:
        import_sent(row, timezone.now())
    return str(refusal.value)


def test_a_second_time_nothing_changes(inside):
    for _ in range(2):
        send(inside, roster())
        inside.post(COURSES, {"courses": ["band"]})
        page = inside.get(CHANGES).text
        inside.post(CHANGES)
    assert "Nothing changes" in page
    assert Event.objects.filter(act="roster_imported").count() == 1


def test_problems_are_listed_and_nothing_can_be_chosen(inside):
    send(inside, roster(users=(b"school-1,student,s-1", b"school-1,Student,s-1")))
    page = inside.get(COURSES).text
    assert "users.csv, row 3, role: “Student” must be written “student”." in page
    assert inside.post(COURSES, {"courses": ["band"]}).status_code == 422
    assert inside.get(CHANGES).status_code == 404
    assert not RosterChoice.objects.exists()


def test_the_same_name_is_asked_about(inside, school):
    ana = make_student(school=school, name="Ana Rivera")
    send(inside, roster())
    inside.post(COURSES, {"courses": ["band"]})
    assert "Is it the same student?" in inside.get(CHANGES).text
    assert inside.post(CHANGES).status_code == 422
    assert Student.objects.count() == 1
    assert inside.post(CHANGES, {"twin-s-1": "same"}).status_code == 302
    ana.refresh_from_db()
    assert (ana.sourced_id, Student.objects.count()) == ("s-1", 2)


def test_a_plain_list_with_guessed_columns(inside):
    assert send(inside, LIST, "students.csv").url == COLUMNS
    page = inside.get(COLUMNS)
    assert [field.initial for field in page.context["form"].fields.values()] == ["family", "given", "grade", "number"]
    chosen = {"column-0": "family", "column-1": "given", "column-2": "grade", "column-3": "number"}
    assert inside.post(COLUMNS, chosen | {"column-2": ""}).status_code == 422
    assert inside.post(COLUMNS, chosen).url == CHANGES
    assert inside.post(CHANGES).status_code == 302
    assert set(Student.objects.values_list("sort_name", "number", "grade")) == {
        ("Rivera, Ana", "40017", "9"),
        ("Okafor, Ben", "40018", "10"),
    }
    send(inside, LIST, "students.csv")
    inside.post(COLUMNS, chosen)
    assert "Nothing changes" in inside.get(CHANGES).text


def test_a_list_with_a_faulty_row_brings_in_nobody(inside):
    send(inside, LIST + b"Stone,Cal,,40019\n", "students.csv")
    chosen = {"column-0": "family", "column-1": "given", "column-2": "grade", "column-3": "number"}
    inside.post(COLUMNS, chosen)
    assert "The list, row 4, Grade: There is no grade in this row." in inside.get(CHANGES).text
    assert inside.post(CHANGES).status_code == 422
    assert not Student.objects.exists()


def test_given_up_the_file_is_gone(inside):
    before = set(kept())
    send(inside, roster())
    assert set(kept()) != before
    assert "Nothing was imported" in inside.post(GIVE_UP, follow=True).text
    assert set(kept()) == before


def test_sent_again_the_earlier_file_is_gone(inside):
    before = set(kept())
    for _ in range(3):
        send(inside, roster())
    assert len(set(kept()) - before) == 1


@pytest.mark.parametrize("data", [b"%PDF-1.7", b"PK\x03\x04 damaged", b""])
def test_what_is_neither_roster_nor_list_is_refused(inside, data):
    before = set(kept())
    assert send(inside, data).status_code == 422
    assert set(kept()) == before


def test_without_a_file_each_step_leads_to_the_first(inside):
    for page in (COURSES, COLUMNS, CHANGES):
        assert inside.get(page).url == SEND


def test_a_director_of_two_schools_says_which(client, school, director):
    other = make_school()
    client.force_login(director)
    answer = client.post(SEND, {"file": SimpleUploadedFile("a.csv", LIST), "school": other.pk})
    assert answer.status_code == 302
    assert client.session["roster"]["school"] == school.pk  # not a choice of theirs


def test_the_remembered_choice_is_checked_and_markup_in_a_title_is_text(inside, school, director):
    choose_courses(school=school, courses={"band": "Band"}, actor=director, at=NOW)
    send(inside, roster(courses=(b"Concert Band", b"<b>Band</b>")))
    page = inside.get(COURSES).text
    assert "&lt;b&gt;Band" in page
    assert page.count(" checked") == 1


def test_who_is_off_the_roster_with_an_instrument_out_is_found_and_told(inside, school, director):
    here = make_student(school=school, name="Ana Rivera")
    off = make_student(school=school, name="Ben Okafor", off_roster_on=TODAY)
    answer = inside.get(reverse("loans:students"), {"state": "off"})
    assert [row.record for row in answer.context["table"].rows] == [off]
    page = reverse("loans:student", args=[off.pk])
    assert "; everything is back." in inside.get(page).text
    make_loan(school=school, student=off)
    assert ", with an instrument out. Take it back" in inside.get(page).text
    assert "Leaving since" not in inside.get(reverse("loans:student", args=[here.pk])).text
