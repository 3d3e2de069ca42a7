"""Ensembles, classes and seats: what is written, what the log says, what is refused."""

from datetime import timedelta

import pytest

from core.models import Event
from desk.selectors.verifying import differences
from loans.exceptions import SeatRefusedError
from loans.models import ClassPeriod, Ensemble, Seat
from loans.services import change_ensemble, change_period, end_seats, seat_students, set_seats
from loans.services.seats import sizes_of
from tests.factories import NOW, TODAY, make_school, make_student
from tests.loans.makers import make_ensemble, make_period, make_seat
from tests.opening import open_all

pytestmark = pytest.mark.django_db


def acts():
    return list(Event.objects.order_by("number").values_list("act", flat=True))


def refused(act, **arguments):
    before = (
        Event.objects.count(),
        *map(list, (Ensemble.objects.values(), ClassPeriod.objects.values(), Seat.objects.values())),
    )
    with pytest.raises(SeatRefusedError) as told:
        act(at=NOW, **arguments)
    after = (
        Event.objects.count(),
        *map(list, (Ensemble.objects.values(), ClassPeriod.objects.values(), Seat.objects.values())),
    )
    assert after == before
    return str(told.value)


def test_the_log_follows_a_class_from_its_beginning_and_names_nobody(school, director):
    ensemble = make_ensemble(school=school, name="Wind Ensemble of Marigold")
    period = make_period(school=school, ensemble=ensemble, name="Marigold's class")
    ana, ben = make_student(school=school, name="Ana Marigold"), make_student(school=school, name="Ben Marigold")
    seats = seat_students(place=period, students=[ana, ben], kinds={ana.pk: "tuba"}, actor=director, at=NOW)
    facts = {seats[0].pk: {"size": "3/4"}, seats[1].pk: {"kind_code": "flute", "is_own": True}}
    assert set_seats(place=period, seats=facts, actor=director, at=NOW) == 2
    assert set_seats(place=period, seats=facts, actor=director, at=NOW) == 0
    change_ensemble(ensemble=ensemble, name="Jazz", level="concert", priority=2, is_active=True, actor=director, at=NOW)
    change_period(period=period, name="Period 3", place=3, ensemble=None, is_active=False, actor=director, at=NOW)
    later = NOW + timedelta(days=3)
    assert end_seats(place=period, seats=[one.pk for one in seats], actor=director, at=later) == 2
    assert end_seats(place=period, seats=[one.pk for one in seats], actor=director, at=later) == 0
    rows = Seat.objects.order_by("pk").values_list("kind_code", "size", "is_own", "until")
    assert list(rows) == [("tuba", "3/4", False, later.date()), ("flute", "", True, later.date())]
    assert acts()[-10:] == [
        "ensemble_added", "period_added", "seat_taken", "seat_taken", "seat_changed", "seat_changed",
        "ensemble_changed", "period_changed", "seat_left", "seat_left",
    ]  # fmt: skip
    told = str(list(Event.objects.values("before", "after")))
    assert "Marigold" not in told
    assert "Jazz" not in told
    open_all()  # the people and the school, which no service made
    assert differences()[1] == []


def test_who_sits_there_already_is_not_seated_twice(school, director):
    seat = make_seat(school=school, kind_code="tuba")
    other = make_student(school=school)
    made = seat_students(place=seat.period, students=[seat.student, other, other], actor=director, at=NOW)
    assert [one.student for one in made] == [other]


def test_a_kind_without_sizes_takes_the_size_away(school, director):
    seat = make_seat(school=school, kind_code="tuba", size="3/4")
    set_seats(place=seat.period, seats={seat.pk: {"kind_code": "flute", "size": "3/4"}}, actor=director, at=NOW)
    seat.refresh_from_db()
    assert (seat.kind_code, seat.size) == ("flute", "")
    assert sizes_of("flute") == ()
    assert sizes_of("tuba") == ("3/4", "4/4", "5/4")


def test_seats_of_another_class_are_not_touched(school, director):
    here, there = make_seat(school=school), make_seat(school=school)
    assert set_seats(place=here.period, seats={there.pk: {"kind_code": "tuba"}}, actor=director, at=NOW) == 0
    assert end_seats(place=here.period, seats=[there.pk], actor=director, at=NOW) == 0
    there.refresh_from_db()
    assert (there.kind_code, there.until) == ("", None)


@pytest.mark.parametrize("who", ["of another school", "left", "erased"])
def test_nobody_else_is_seated(school, director, who):
    student = {
        "of another school": lambda: make_student(school=make_school()),
        "left": lambda: make_student(school=school, left_on=TODAY),
        "erased": lambda: make_student(school=school, erased_at=NOW),
    }[who]()
    period = make_period(school=school)
    words = refused(seat_students, place=period, students=[make_student(school=school), student], actor=director)
    assert "cannot be seated" in words


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        pytest.param({"kind_code": "kazoo"}, "not in the catalog", id="no such kind"),
        pytest.param({"size": "1/16"}, "does not come in that size", id="no such size"),
        pytest.param({"level": "guru"}, "guru", id="no such level"),
    ],
)
def test_what_no_catalog_knows_is_refused(school, director, facts, words):
    seat = make_seat(school=school, kind_code="tuba")
    assert words in refused(set_seats, place=seat.period, seats={seat.pk: facts}, actor=director)


def test_a_class_has_an_ensemble_of_its_school_and_an_ensemble_a_name_of_its_own(school, director):
    period, elsewhere = make_period(school=school), make_ensemble()
    facts = {"name": "x", "place": 1, "is_active": True, "actor": director}
    assert "another school" in refused(change_period, period=period, ensemble=elsewhere, **facts)
    make_ensemble(school=school, name="Jazz")
    other = make_ensemble(school=school)
    facts = {"name": " Jazz ", "level": "concert", "priority": 1, "is_active": True, "actor": director}
    assert "already" in refused(change_ensemble, ensemble=other, **facts)
    assert refused(change_ensemble, ensemble=other, **facts | {"name": "", "priority": 0})
