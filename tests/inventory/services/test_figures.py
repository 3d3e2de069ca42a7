from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.catalog.load import CatalogError, Problem
from inventory.exceptions import RefusedError
from inventory.models import District, Figure
from inventory.selectors.figures import in_force
from inventory.services import figures
from inventory.services.figures import call_off, note_recomputed, recompute, set_figures
from tests.contests import at_once, contests, wrong_after
from tests.factories import NOW, TODAY, make_district, make_user

pytestmark = pytest.mark.django_db
RATE = "bench_rate_amount"
LATER = TODAY + timedelta(days=30)


@pytest.fixture
def person():
    make_district()
    return make_user()


def put(person, day=TODAY, **values):
    return set_figures(values=values, effective_on=day, actor=person, at=NOW)


def events():
    return [(event.before, event.after) for event in Event.objects.filter(act="figure_set").order_by("number")]


def test_each_value_is_kept_with_who_and_when_and_an_event_from_and_to(person):
    put(person, **{RATE: "40"})
    put(person, **{RATE: "42.50"}, day=LATER)
    assert list(Figure.objects.values_list("key", "value", "effective_on", "set_by", "set_at")) == [
        (RATE, "40", TODAY, person.pk, NOW),
        (RATE, "42.5", LATER, person.pk, NOW),
    ]
    assert events() == [
        ({"value": "30"}, {"key": RATE, "value": "40", "effective_on": "2026-09-14"}),
        ({"value": "40"}, {"key": RATE, "value": "42.5", "effective_on": "2026-10-14"}),
    ]


def test_what_holds_already_is_not_set_again(person):
    put(person, **{RATE: "40"})
    assert put(person, **{RATE: "40.0"}) == []
    assert Figure.objects.count() == len(events()) == 1


def test_the_default_may_be_set_as_one_s_own(person):
    assert len(put(person, **{RATE: "30"})) == 1
    assert in_force(at=NOW).values == {RATE: "30"}


@pytest.mark.parametrize(
    ("values", "day", "says"),
    [
        ({RATE: "301"}, TODAY, "An hour at our own bench: Enter a number from 0 to 300."),
        ({RATE: "40", "repair_limit": "5"}, TODAY, "A repair pays up to: Enter a number from 10 to 100."),
        ({"no_such": "1"}, TODAY, "There is no figure called no_such."),
        ({RATE: "40"}, TODAY - timedelta(days=1), "That day is in the past."),
        ({RATE: "40"}, TODAY + timedelta(days=4000), "That is more than 3 years away. Check the year."),
    ],
)
def test_what_is_refused_writes_nothing(person, values, day, says):
    with pytest.raises(RefusedError) as refused:
        put(person, day=day, **values)
    assert str(refused.value) == says
    assert (Figure.objects.count(), events(), District.objects.get().figures_mark) == (0, [], "")


def test_condition_bands_rise_on_each_day(person):
    """Good, fair and poor meet at 5, 10 and 30%, a convention of facility managers (no standard); each band has room."""
    put(person, index_good_to="8")
    put(person, index_fair_to="20", day=LATER)
    for values, day, says in (
        ({"index_good_to": "50"}, TODAY, "“Condition is fair up to” (10% of"),
        ({"index_fair_to": "8"}, TODAY, "“Condition is good up to” (8% of"),
        ({"index_poor_to": "15"}, TODAY, "From Oct 14, 2026, “Condition is poor up to” (15% of"),
    ):
        with pytest.raises(RefusedError) as refused:
            put(person, day=day, **values)
        assert says in str(refused.value)
    assert Figure.objects.count() == 2
    put(person, index_good_to="20", index_fair_to="40", index_poor_to="60", day=LATER)  # together they rise


def test_before_the_district_is_named_there_is_nobody_to_set_them(db):
    with pytest.raises(RefusedError, match="Name the district first"):
        set_figures(values={RATE: "40"}, effective_on=TODAY, actor=None, at=NOW)


def test_what_the_catalog_refuses_together_is_refused_here(person, monkeypatch):
    def refuse(*_args):
        raise CatalogError([Problem("Setup", "settings.bench_rate_amount", "does not fit")])

    monkeypatch.setattr(figures, "load_catalog", refuse)
    with pytest.raises(RefusedError, match="does not fit"):
        put(person, **{RATE: "40"})
    assert Figure.objects.count() == 0


def test_one_that_has_not_begun_can_be_called_off(person):
    put(person, **{RATE: "40"})
    (row,) = put(person, **{RATE: "45"}, day=LATER)
    call_off(figure=row, actor=person, at=NOW)
    assert in_force(at=NOW + timedelta(days=60)).values == {RATE: "40"}
    assert Figure.objects.count() == 3  # nothing that was set is taken out of the history
    share = put(person, repair_limit="60", day=LATER)[0]
    call_off(figure=share, actor=person, at=NOW)
    assert "repair_limit" not in in_force(at=NOW + timedelta(days=60)).values


def test_one_that_has_begun_cannot_be_called_off(person):
    (row,) = put(person, **{RATE: "40"})
    with pytest.raises(RefusedError, match="already taken effect"):
        call_off(figure=row, actor=person, at=NOW)


def test_what_stored_state_hangs_on_asks_for_it_once_in_the_act_when_its_day_has_come(person, monkeypatch):
    asked = []
    monkeypatch.setattr(recompute, "_function", lambda: asked.append(Figure.objects.count()))
    put(person, **{RATE: "40"})
    put(person, inspection_valid_days="300", day=LATER)
    assert asked == []
    put(person, inspection_valid_days="400", pitch_limit_cents="20")
    assert asked == [4]


def test_it_is_noted_with_which_figures_stored_state_was_reckoned(person):
    note_recomputed(judged_by="abc", actor=None, at=NOW)
    assert District.objects.get().reckoned_with == "abc"


def two_set_at_once():
    """Each sets another value of the same figure; what holds is what the later row says."""
    start = Figure.objects.count()
    at_once(*[lambda value=value: put(None, **{RATE: str(value)}) for value in (2 * start + 50, 2 * start + 51)])
    rows = list(Figure.objects.order_by("pk"))
    assert len(rows) == len(events()) == start + 2
    assert in_force(at=NOW).values == {RATE: rows[-1].value}


@pytest.mark.django_db(transaction=True)
@contests(two_set_at_once)
def test_two_who_set_at_once_both_stand_in_the_history(contest, rounds):
    make_district()
    assert wrong_after(contest, rounds) == []
