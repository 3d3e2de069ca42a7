from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from loans.models import Ensemble, Seat
from tests.factories import NOW, TODAY, make_student
from tests.loans.makers import make_ensemble, make_loan, make_period, make_seat

pytestmark = pytest.mark.django_db


def test_a_seat_wants_an_instrument_until_its_player_has_one_of_the_kind(school):
    seat = make_seat(school=school, kind_code="trumpet")
    make_seat(school=school, kind_code="trumpet", is_own=True)
    make_seat(school=school)
    assert list(Seat.objects.wanting()) == list(Seat.objects.unmet()) == [seat]
    make_loan(school=school, student=seat.student)
    assert list(Seat.objects.wanting()) == [seat]
    assert list(Seat.objects.unmet()) == []


@pytest.mark.parametrize("what", ["left", "class over", "ensemble over", "its own ensemble over", "ended"])
def test_what_is_over_needs_nothing(school, what):
    ensemble = make_ensemble(school=school)
    seat = make_seat(
        place=ensemble if what == "its own ensemble over" else make_period(ensemble=ensemble), kind_code="tuba"
    )
    assert Seat.objects.wanting().count() == 1
    match what:
        case "left":
            type(seat.student).objects.update(left_on=TODAY)
        case "class over":
            type(seat.period).objects.update(is_active=False)
        case "ended":
            Seat.objects.update(until=TODAY)
        case _:
            Ensemble.objects.update(is_active=False)
    assert Seat.objects.wanting().count() == 0


@pytest.mark.parametrize(
    "wrong", ["nowhere", "in both", "ends before it begins", "twice in a class", "twice in an ensemble"]
)
def test_the_database_refuses_a_seat_that_cannot_be(school, wrong):
    period, ensemble, student = make_period(school=school), make_ensemble(school=school), make_student(school=school)
    place = {"ensemble": ensemble} if wrong == "twice in an ensemble" else {"period": period}
    good = {"student": student, "since": TODAY, "kind_code": "tuba", **place}
    bad = {
        "nowhere": good | {"period": None},
        "in both": good | {"ensemble": ensemble},
        "ends before it begins": good | {"until": TODAY - timedelta(days=1)},
    }.get(wrong, good)
    if wrong.startswith("twice"):
        Seat.objects.create(**good)
    with pytest.raises(IntegrityError), transaction.atomic():
        Seat.objects.create(**bad)


def test_names_of_seats_ensembles_and_classes(school):
    seat = make_seat(place=make_period(school=school, name="Period 2"), kind_code="tuba", at=NOW)
    assert (str(seat), str(seat.period), seat.kind_name) == (f"seat {seat.pk}", "Period 2", "Tuba")
    assert str(make_ensemble(school=school, name="Jazz")) == "Jazz"
    assert Seat().kind_name == ""
