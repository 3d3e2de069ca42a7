"""The pages of ensembles, classes and need, as a director uses them."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Role, StaffRole
from loans.models import ClassPeriod, Ensemble, Seat
from tests.factories import make_ready_instrument, make_school, make_student
from tests.loans.makers import make_ensemble, make_loan, make_period, make_seat

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client, director):
    client.force_login(director, backend="core.access.RoleBackend")
    return client


def test_from_an_ensemble_to_who_plays_what(page, director, school):
    page.post(reverse("loans:add-ensemble"), {"name": "Jazz", "level": "concert", "priority": 2})
    band = Ensemble.objects.get()
    added = page.post(reverse("loans:add-period"), {"name": "Period 1", "place": 1, "ensemble": band.pk})
    period = ClassPeriod.objects.get()
    assert added.url == reverse("loans:period-students", args=[period.pk])
    ana, ben = make_student(school=school, name="Ana", grade="6"), make_student(school=school, name="Ben", grade="7")
    listed = page.get(added.url, {"grade": "7"}).text
    assert "Ben" in listed
    assert "Ana" not in listed
    page.post(added.url, {"students": [ana.pk, ben.pk], "kind": "trumpet"})
    mine = Seat.objects.get(student=ana)
    address = reverse("loans:period", args=[period.pk])
    shown = page.get(address).text
    assert "2 students; 0 without a kind, 2 without an instrument" in shown
    page.post(address, {f"kind-{mine.pk}": "tuba", f"initial-kind-{mine.pk}": "trumpet"})
    page.post(address, {"set": "1", "for_all": "flute", "seat": [Seat.objects.get(student=ben).pk]})
    assert dict(Seat.objects.values_list("student__name", "kind_code")) == {"Ana": "tuba", "Ben": "flute"}
    page.post(address, {"out": "1", "seat": [mine.pk]})
    assert list(Seat.objects.filter(until=None).values_list("student__name", flat=True)) == ["Ben"]


@pytest.mark.parametrize("kind", ["ensemble", "period"])
def test_what_meets_no_more_is_listed_last(page, school, kind):
    place = {"ensemble": make_ensemble, "period": make_period}[kind](school=school, name="Old ones")
    facts = {"name": "Older ones", "level": "concert", "priority": 3, "place": 4}
    assert page.post(reverse(f"loans:edit-{kind}", args=[place.pk]), facts).status_code == 302
    place.refresh_from_db()
    assert (place.name, place.is_active) == ("Older ones", False)
    assert "No longer meet" in page.get(reverse("loans:ensembles")).text


def test_a_refused_line_stays_typed(page, school):
    seat = make_seat(school=school, kind_code="tuba")
    address = reverse("loans:period", args=[seat.period_id])
    answer = page.post(address, {"set": "1", f"kind-{seat.pk}": "flute", f"initial-kind-{seat.pk}": "tuba"})
    assert answer.status_code == 422
    assert "Check the students first." in answer.text
    assert '<option value="flute" selected>' in answer.text


def test_nobody_of_another_school_can_be_seated(page, school):
    period, stranger = make_period(school=school), make_student(school=make_school())
    answer = page.post(reverse("loans:period-students", args=[period.pk]), {"students": [stranger.pk]})
    assert answer.status_code == 422
    assert not Seat.objects.exists()


def test_need_says_what_is_short_to_those_who_see_no_names(client, tech, school):
    student = make_student(school=school, name="Marigold")
    make_seat(student=student, kind_code="tuba")
    client.force_login(tech, backend="core.access.RoleBackend")
    need = client.get(reverse("loans:need")).text
    assert "1 instrument short" in need
    assert "For 1 student, 0 of whom have one; 1 short" in need
    table = client.get(reverse("loans:need"), {"file": "csv"}).getvalue().decode("utf-8-sig")
    assert table.splitlines()[1].startswith("Tuba,")
    assert table.splitlines()[1].endswith(",1,0,0,0,0,1")
    need += table
    places = client.get(reverse("loans:ensembles")).text
    assert "Marigold" not in need + places
    assert reverse("loans:period", args=[student.seats.get().period_id]) not in places


def test_a_page_of_several_schools_is_about_one_at_a_time(client, auditor, school):
    make_period(school=school, name="Here")
    other = make_period(school=make_school(code="ELSE"), name="There")
    client.force_login(auditor, backend="core.access.RoleBackend")
    shown = client.get(reverse("loans:ensembles"), {"school": other.school.code}).text
    assert "There" in shown
    assert "Here" not in shown


def test_pages_cost_the_same_for_one_seat_and_for_many(page, school):
    def cost():
        counts = []
        for name, args in (("ensembles", []), ("need", []), ("period", [period.pk]), ("period-students", [period.pk])):
            with CaptureQueriesContext(connection) as seen:
                assert page.get(reverse(f"loans:{name}", args=args)).status_code == 200
            counts.append(len(seen))
        return counts

    period = make_period(school=school)
    make_seat(place=period, kind_code="trumpet")
    make_student(school=school)
    one = cost()
    for kind in ("trumpet", "flute", "oboe"):
        make_seat(place=period, kind_code=kind)
        make_seat(place=make_ensemble(school=school), kind_code=kind)
        make_ready_instrument(school=school, kind_code=kind)
    make_loan(school=school, student=period.seats.first().student)
    assert cost() == one


def test_what_a_role_at_another_school_allows_is_not_offered_here(page, director, school):
    other = make_school()
    StaffRole.objects.create(user=director, role=Role.AUDITOR, school=other)
    offered = [
        page.get(reverse("loans:ensembles"), {"school": one.code}).context["may_change"] for one in (school, other)
    ]
    assert offered == [True, False]
