"""Proposing, changing by hand, solving again, locking: each act, each refusal, and two people at once."""

from functools import partial

import pytest

from core.models import Event
from desk.selectors.verifying import differences
from inventory.models import Instrument
from loans.exceptions import AssignmentRefusedError
from loans.models import Assignment, AssignmentLine
from loans.services import (
    drop_assignment,
    exclude_instrument,
    fix_line,
    give_instrument,
    lock_assignment,
    note_list_printed,
    propose_assignment,
    solve_again,
)
from tests.contests import at_once, went_well
from tests.factories import NOW, make_director, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_assignment, make_ensemble, make_loan, make_seat
from tests.opening import open_all

pytestmark = pytest.mark.django_db


@pytest.fixture
def act(director):
    return {"actor": director, "at": NOW}


@pytest.fixture
def band(school):
    """Three players, two trumpets: the ensemble of the first comes last."""
    last = make_ensemble(school=school, priority=9)
    first = make_ensemble(school=school, priority=1)
    seats = [make_seat(place=place, kind_code="trumpet") for place in (last, first, first)]
    return seats, [make_ready_instrument(school=school) for _ in range(2)]


def given(assignment):
    return {line.student_id: line.instrument_id for line in assignment.lines.all()}


def codes(assignment):
    return {line.student_id: [one["code"] for one in line.why] for line in assignment.lines.all()}


def refused(do, **arguments):
    def rows():
        return Event.objects.count(), list(Assignment.objects.values()), list(AssignmentLine.objects.values())

    before = rows()
    with pytest.raises(AssignmentRefusedError) as told:
        do(**arguments)
    assert rows() == before
    return str(told.value)


def test_a_proposal_serves_the_first_ensemble_and_the_log_keeps_seed_and_lines(school, band, act):
    seats, instruments = band
    assignment = propose_assignment(school=school, **act)
    got = given(assignment)
    assert got[seats[0].student_id] is None
    assert {got[seats[1].student_id], got[seats[2].student_id]} == {one.pk for one in instruments}
    assert codes(assignment)[seats[0].student_id] == ["too_few"]
    assert 0 <= assignment.seed < 2**62
    event = Event.objects.newest_first()[0]
    assert (event.act, event.after["now"]["seed"]) == ("assignment_proposed", assignment.seed)
    assert {one["student"]: one["instrument"] for one in event.after["lines"]} == got
    assert given(propose_assignment(school=school, seed=assignment.seed, **act)) == got


def test_a_line_is_given_anothers_instrument_and_both_stay_as_fixed(school, band, act):
    seats, _ = band
    assignment = make_assignment(school=school)
    before = given(assignment)
    none, some = (assignment.lines.get(student=seat.student) for seat in seats[:2])
    assignment = give_instrument(line=none, instrument=some.instrument, seen=1, **act)
    assert given(assignment) == before | {none.student_id: some.instrument_id, some.student_id: None}
    assert codes(assignment)[none.student_id][0] == "fixed"
    assert codes(assignment)[some.student_id] == ["fixed_none"]
    assignment = solve_again(assignment=assignment, seen=2, **act)
    assert given(assignment) == before | {none.student_id: some.instrument_id, some.student_id: None}
    some.refresh_from_db()
    assignment = fix_line(line=some, is_fixed=False, seen=3, **act)
    assignment = fix_line(line=some, is_fixed=False, seen=4, **act)  # nothing to let go
    assert assignment.revision == 4
    open_all()
    assert differences()[1] == []


def test_what_is_left_out_goes_to_nobody_until_it_is_let_in(school, band, act):
    instruments = band[1]
    assignment = make_assignment(school=school)
    assignment = exclude_instrument(assignment=assignment, instrument=instruments[0], is_excluded=True, seen=1, **act)
    assert instruments[0].pk not in given(assignment).values()
    assignment = solve_again(assignment=assignment, seen=2, **act)
    assert list(filter(None, given(assignment).values())) == [instruments[1].pk]
    assignment = exclude_instrument(assignment=assignment, instrument=instruments[0], is_excluded=True, seen=3, **act)
    assert assignment.revision == 3  # it was left out already
    assignment = exclude_instrument(assignment=assignment, instrument=instruments[0], is_excluded=False, seen=3, **act)
    assignment = solve_again(assignment=assignment, seen=4, **act)
    assert set(given(assignment).values()) == {None, *(one.pk for one in instruments)}


def test_solving_again_takes_in_who_came_and_notes_who_needs_none_any_more(school, band, act):
    seats, instruments = band
    assignment = make_assignment(school=school)
    make_loan(school=school, student=seats[1].student)
    new = make_seat(school=school, place=seats[1].ensemble, kind_code="trumpet")
    assignment = solve_again(assignment=assignment, seen=1, **act)
    got, why = given(assignment), codes(assignment)
    assert (got[seats[1].student_id], why[seats[1].student_id]) == (None, ["no_longer"])
    assert {got[seats[2].student_id], got[new.student_id]} == {one.pk for one in instruments}
    open_all()
    assert differences()[1] == []


def test_a_lock_takes_the_place_of_the_one_that_was_on_the_page(school, band, act):
    first, second = make_assignment(school=school), make_assignment(school=school, seed=2)
    lock_assignment(assignment=first, seen=1, replaces=None, **act)
    words = refused(lock_assignment, assignment=second, seen=1, replaces=None, **act)
    assert "Somebody else has locked" in words
    lock_assignment(assignment=second, seen=1, replaces=first.pk, **act)
    states = dict(Assignment.objects.values_list("pk", "state"))
    assert states == {first.pk: "dropped", second.pk: "locked"}
    assert "no longer open" in refused(solve_again, assignment=second, seen=1, **act)
    note_list_printed(assignment=second, **act)
    drop_assignment(assignment=second, **act)
    drop_assignment(assignment=second, **act)
    assert not Assignment.objects.locked().exists()
    acts = list(Event.objects.order_by("number").values_list("act", flat=True))[-5:]
    assert acts == [
        "assignment_locked",
        "assignment_dropped",
        "assignment_locked",
        "hand_out_list_printed",
        "assignment_dropped",
    ]
    open_all()
    assert differences()[1] == []


def test_an_act_on_what_was_not_on_the_page_is_refused(school, band, act):
    assignment = make_assignment(school=school)
    solve_again(assignment=assignment, seen=1, **act)
    line, instrument = assignment.lines.first(), band[1][0]
    for do, more in (
        (solve_again, {"assignment": assignment}),
        (give_instrument, {"line": line, "instrument": None}),
        (fix_line, {"line": line, "is_fixed": True}),
        (exclude_instrument, {"assignment": assignment, "instrument": instrument, "is_excluded": True}),
        (lock_assignment, {"assignment": assignment, "replaces": None}),
    ):
        assert "changed this assignment in the meantime" in refused(do, seen=1, **more, **act)


def test_instruments_of_another_school_or_kind_are_refused(school, band, act):
    make_seat(school=school, kind_code="tuba")
    tuba = make_ready_instrument(school=school, kind_code="tuba")
    assignment = make_assignment(school=school)
    line = assignment.lines.exclude(instrument=None).filter(kind_code="trumpet").first()
    elsewhere = make_ready_instrument(school=make_school())
    assert "another school" in refused(give_instrument, line=line, instrument=elsewhere, seen=1, **act)
    assert "another kind" in refused(give_instrument, line=line, instrument=tuba, seen=1, **act)
    words = refused(exclude_instrument, assignment=assignment, instrument=elsewhere, is_excluded=True, seen=1, **act)
    assert "another school" in words


def test_nobody_to_serve_is_said_and_leaves_nothing(school, act):
    make_student(school=school)
    assert "Nobody at this school" in refused(propose_assignment, school=school, **act)


def test_what_is_given_against_the_rules_says_so(school, band, act):
    seats, _ = band
    assignment = make_assignment(school=school)
    raw = Instrument.objects.get(pk=make_ready_instrument(school=school).pk)
    Instrument.objects.filter(pk=raw.pk).update(whereabouts="on_bench")
    line = assignment.lines.get(student=seats[0].student)
    assignment = give_instrument(line=line, instrument=raw, seen=1, **act)
    assert codes(assignment)[line.student_id] == ["fixed", "despite_kept"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_lock_at_once_one_wins():
    school = make_school()
    both = [make_assignment(school=school, seed=seed) for seed in (1, 2)]
    actor = make_director(school)
    answers = at_once(
        *(partial(lock_assignment, assignment=one, seen=1, replaces=None, actor=actor, at=NOW) for one in both)
    )
    assert len(went_well(answers)) == 1
    assert sorted(Assignment.objects.values_list("state", flat=True)) == ["locked", "proposed"]
