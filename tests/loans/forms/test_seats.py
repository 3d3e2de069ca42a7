import pytest
from django.http import QueryDict

from inventory.models import School
from loans.forms.seats import EnsembleForm, PeriodForm, SeatsForm, kind_choices
from tests.factories import make_school
from tests.loans.makers import make_ensemble, make_period, make_seat

pytestmark = pytest.mark.django_db


def test_only_what_was_changed_on_the_page_is_saved(school):
    """A line that somebody else changed meanwhile keeps their change: what the page showed comes along."""
    mine, theirs = make_seat(school=school, kind_code="tuba"), make_seat(school=school, kind_code="flute")
    data = QueryDict(mutable=True)
    for pk, kind, shown in ((mine.pk, "oboe", "tuba"), (theirs.pk, "trumpet", "trumpet")):
        data.update({f"kind-{pk}": kind, f"initial-kind-{pk}": shown})
    data.update({f"size-{mine.pk}": "3/4", f"initial-size-{mine.pk}": ""})
    form = SeatsForm(data, seats=[mine, theirs])
    assert form.is_valid()
    assert form.changes() == {mine.pk: {"kind_code": "oboe", "size": "3/4"}}


def test_one_kind_is_set_for_those_checked(school):
    one, two = make_seat(school=school), make_seat(school=school)
    data = QueryDict(f"set=1&for_all=tuba&seat={one.pk}&seat=999&seat=x")
    form = SeatsForm(data, seats=[one, two])
    assert form.is_valid()
    assert form.checked() == {one.pk}
    assert form.changes() == {one.pk: {"kind_code": "tuba"}}
    assert [line["is_checked"] for line in form.lines()] == [True, False]


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("set=1&for_all=tuba", "Check the students first"),
        ("out=1", "Check the students first"),
        ("set=1&seat={}", "Choose a kind"),
    ],
)
def test_what_is_missing_is_asked_for(school, query, words):
    seat = make_seat(school=school)
    assert words in str(SeatsForm(QueryDict(query.format(seat.pk)), seats=[seat]).errors)


def test_a_size_is_asked_for_only_where_a_kind_has_sizes(school):
    tuba, flute = make_seat(school=school, kind_code="tuba"), make_seat(school=school, kind_code="flute")
    assert [line["size"] is not None for line in SeatsForm(seats=[tuba, flute]).lines()] == [True, False]


def test_kinds_come_by_name():
    names = [name for _, name in kind_choices(empty="None")]
    assert names[0] == "None"
    assert names[1:] == sorted(names[1:])


def test_the_school_is_asked_for_where_there_are_several(school):
    other = make_school()
    band = make_ensemble(school=other)
    form = PeriodForm(schools=School.objects.all())
    assert "school" in form.fields
    assert "is_active" not in form.fields
    data = {"school": other.pk, "name": "P1", "place": 1, "ensemble": band.pk}
    filled = PeriodForm(data, schools=School.objects.all())
    assert filled.is_valid()
    assert (filled.school_and_facts["school"], filled.school_and_facts["ensemble"]) == (other, band)
    only = EnsembleForm({"name": "Jazz", "level": "concert", "priority": "2"}, schools=[school])
    assert only.is_valid()
    assert only.school_and_facts["school"] == school


def test_a_form_about_a_row_shows_what_it_is_and_saves_what_it_becomes(school):
    period = make_period(school=school, name="P1")
    assert PeriodForm(schools=[], row=period)["name"].value() == "P1"
    form = PeriodForm({"name": "P2", "place": 2}, schools=[], row=period)
    assert form.is_valid()
    assert form.facts == {"name": "P2", "place": 2, "ensemble": None, "is_active": False}
