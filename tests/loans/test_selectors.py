"""Who has what, which words are signed, what changed, how long papers are kept, where a student is named."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import User
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import District, Instrument, Purpose, School
from inventory.rules.facts import FindingFact
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from inventory.services.registering import change_instrument
from loans.models import Agreement, AgreementTerms, Loan, Student
from loans.rules.compare import Change
from loans.selectors import (
    agreed_facts,
    compare_inspections,
    current_terms,
    default_terms,
    expired_papers,
    finding_in_words,
    findings_in_words,
    handed_out_with,
    loans_of,
    named_in,
    open_loan_of,
    paper_facts,
    papers_to_keep,
    places_to_redact,
    redaction_of,
    schools_with_names,
    students_of,
    terms_of_version,
    waiting_papers,
)
from loans.services import note_student_left, return_loan, write_terms
from loans.tasks import make_paper
from tests.factories import NOW, TODAY, make_limited_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_agreement, make_loan, make_return_walk


@pytest.mark.parametrize(
    ("role", "names", "contacts"), [("director", True, True), ("auditor", True, False), ("administrator", False, False)]
)
def test_who_reads_names_and_who_reads_contacts(request, school, role, names, contacts):
    user = request.getfixturevalue(role)
    assert (school.pk in schools_with_names(user)) is names
    assert has_perm_at_school(user, "loans.view_student", school.pk) is contacts


def test_the_list_to_choose_from_leaves_out_who_left_and_counts_what_each_has(school, director):
    has = make_student(school=school, name="A")
    make_loan(school=school, student=has)
    gone = make_student(school=school, name="B")
    note_student_left(student=gone, left_on=TODAY, actor=director, at=NOW)
    fresh = make_student(school=school, name="C")
    assert [(row, row.out) for row in students_of(school)] == [(has, 1), (fresh, 0)]


def test_the_open_loan_is_found_and_a_closed_one_is_history(school, director):
    loan = make_loan(school=school, actor=director)
    assert open_loan_of(loan.instrument) == loan
    later = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=later), accessories_back={}, actor=director, at=later)
    assert open_loan_of(loan.instrument) is None
    assert list(loans_of(loan.student)) == [loan]


def test_before_anybody_wrote_terms_the_programs_own_are_shown_and_no_row_is_written(db):
    shown = current_terms()
    assert (shown.version, shown.text) == (1, default_terms())
    assert terms_of_version(1).text == shown.text
    assert terms_of_version(2) is None
    assert not AgreementTerms.objects.exists()


def test_an_older_version_is_found_as_it_was_read(director):
    newer = write_terms(text="Bring it back dry.", actor=director, at=NOW)
    assert current_terms() == newer
    assert terms_of_version(newer.version) == newer
    assert terms_of_version(1).text == default_terms()


def walked_back(loan: Loan, findings: list[tuple[str, str, str]]):
    later = NOW + timedelta(days=90)
    walk = start_inspection(
        instrument=loan.instrument, purpose=Purpose.RETURN, actor=loan.actor, at=later, compared_with=loan.hand_out
    )
    answer_safety(inspection=walk, is_safe=True, actor=loan.actor, at=later)
    for part, fault, severity in findings:
        record_finding(inspection=walk, part=part, fault=fault, severity=severity, actor=loan.actor, at=later)
    look_at_rest(inspection=walk, actor=loan.actor, at=later)
    return finish_inspection(inspection=walk, actor=loan.actor, at=later)


def test_a_new_dent_is_told_from_what_was_there(school, director):
    loan = make_loan(school=school, actor=director)
    walk = walked_back(loan, [("bell_bow", "dent_small", "moderate")])
    [row] = compare_inspections(loan=loan, taken_back=walk)
    assert (row.part, row.fault, row.before, row.change) == ("bell_bow", "dent_small", None, Change.NEW)
    assert row.cause is not None


def test_what_was_repaired_before_it_went_out_is_neither_on_the_paper_nor_compared(school, director):
    loan = make_loan(school=school, actor=director)
    repaired, wrong = NOW - timedelta(minutes=1), NOW + timedelta(minutes=1)
    for part, closed_at in (("bell_bow", repaired), ("pistons", loan.lent_at), ("leadpipe", wrong), ("ferrules", None)):
        loan.hand_out.findings.create(
            instrument=loan.instrument,
            part=part,
            fault="dent_small",
            severity="light",
            found_at=NOW,
            closed_at=closed_at,
        )
    assert [fact.part for fact in handed_out_with(loan)] == ["leadpipe", "ferrules"]
    assert [one["part"] for one in make_agreement(loan).facts["found"]] == ["leadpipe", "ferrules"]
    assert {row.part for row in compare_inspections(loan=loan, taken_back=None)} == {"leadpipe", "ferrules"}


def test_without_a_return_nothing_has_changed(school, director):
    loan = make_loan(school=school, actor=director)
    rows = compare_inspections(loan=loan, taken_back=None)
    assert all(row.change is Change.SAME for row in rows)
    assert handed_out_with(Loan()) == ()


def test_papers_are_kept_for_the_districts_years_after_the_return_and_for_ever_where_none_are_named(school, director):
    loan = make_loan(school=school, actor=director)
    agreement = make_agreement(loan)
    back = NOW + timedelta(days=3)
    return_loan(loan=loan, taken_back=make_return_walk(loan, at=back), accessories_back={}, actor=director, at=back)
    ten_years_on = TODAY + timedelta(days=3653)
    assert list(expired_papers(today=ten_years_on)) == []
    District.objects.update(keep_papers_years=4)
    [(held, until)] = papers_to_keep(loan.student, at=back)
    assert (held, until.year) == (agreement, TODAY.year + 4)
    assert list(expired_papers(today=until - timedelta(days=1))) == []
    assert list(expired_papers(today=until)) == [(agreement, until)]


def test_a_paper_whose_instrument_is_still_out_is_past_no_time(school, director):
    make_agreement(make_loan(school=school, actor=director))
    District.objects.update(keep_papers_years=1)
    assert list(expired_papers(today=TODAY + timedelta(days=3653))) == []


@pytest.fixture
def student(school):
    return make_student(school=school, name="Robin Reed", guardian_name="Gale Guardian")


@pytest.fixture
def instrument(school, student, director):
    loan = make_loan(school=school, student=student, actor=director)
    Instrument.objects.filter(pk=loan.instrument_id).update(notes="Robin Reed dropped it. The reed is chipped.")
    return loan.instrument


def texts(found):
    return {typed.text for typed in found}


def test_a_whole_name_is_sure_wherever_it_was_typed_in_the_school(student, instrument, school):
    other = make_ready_instrument(school=school, notes="Seen by Gale Guardian")
    make_ready_instrument(school=school, notes="A reed is missing")
    found = named_in(student, redaction_of(student))
    assert texts(found.sure) == {"Robin Reed dropped it. The reed is chipped.", "Seen by Gale Guardian"}
    assert other.pk not in {typed.thread for typed in found.unsure}


def test_a_word_that_may_be_the_name_counts_only_where_the_student_had_the_instrument(student, instrument):
    page = places_to_redact(student, nicknames=(), checked={})
    assert page["sure_count"] == 1
    assert all(place["where"].startswith(instrument.asset_number) for place in page["unsure"])


def test_a_box_that_was_unchecked_stays_unchecked(student, instrument):
    Instrument.objects.filter(pk=instrument.pk).update(notes="Robin says it sticks.")
    [place] = places_to_redact(student, nicknames=(), checked={})["unsure"]
    assert place["is_checked"]
    [again] = places_to_redact(student, nicknames=(), checked={place["key"]: False})["unsure"]
    assert not again["is_checked"]


# The terms to begin with say what agreements of school programs say (common practice, no source).
@pytest.mark.parametrize(
    "topic",
    [
        "serial number",
        "tag",
        "condition",
        "accessories",
        "replacement value",
        "charged",
        "repairs",
        "next school day",
        "return date",
        "not lent to anyone else",
        "Normal wear is not charged",
    ],
)
def test_the_terms_cover(topic):
    assert topic in default_terms()


def test_the_terms_are_paragraphs_within_the_length_of_the_field():
    assert len(default_terms()) < 20_000
    assert len([part for part in default_terms().split("\n\n") if part.strip()]) >= 8


def test_findings_are_lines_with_their_severity():
    facts = [FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.MODERATE)]
    [line] = findings_in_words(catalog().kinds["trumpet"], facts)
    assert line == f"Third valve slide: {catalog().faults['slide_seized'].name}, moderate"


def test_a_finding_is_put_in_the_words_of_the_trade():
    trumpet = catalog().kinds["trumpet"]
    where, what = finding_in_words(trumpet, part="third_valve_slide", place="", fault="slide_seized")
    assert where == "Third valve slide"
    assert what == catalog().faults["slide_seized"].name
    assert finding_in_words(trumpet, part="lost_part", place="x", fault="lost_fault") == ("Lost part x", "lost fault")


def limited_loan(school: School, director: User) -> Loan:
    instrument = make_limited_instrument(school=school)
    return make_loan(instrument=instrument, actor=director, limits_reason="Plays the upper part.")


def signed(loan: Loan) -> Agreement:
    """Read again, as whoever prints it does."""
    return Agreement.objects.for_paper().get(loan=loan)


def test_the_paper_takes_its_drawings_from_the_hand_out_inspection(school, director):
    loan = make_loan(school=school, actor=director)
    facts = paper_facts(Agreement(loan=loan))
    assert (facts["findings"], facts["photos"]) == ([], 0)
    assert facts["drawn"] is not None
    loan.hand_out = None
    assert paper_facts(Agreement(loan=loan))["drawn"] is None


def test_what_was_signed_is_what_is_printed_later_whatever_was_corrected_since(school, director):
    loan = limited_loan(school, director)
    make_agreement(loan)
    before = paper_facts(signed(loan))
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    change_instrument(
        instrument=instrument, maker="Other Works", model="Other", serial="OTHER-1", options={"third_slide": "none"},
        replacement_amount=1, actor=director, at=NOW + timedelta(days=1),
    )  # fmt: skip
    Instrument.objects.filter(pk=instrument.pk).update(asset_number="OTHER")
    Student.objects.filter(pk=loan.student_id).update(name="Other", grade="12", guardian_name="Other")
    School.objects.filter(pk=school.pk).update(name="Other School")
    type(director).objects.filter(pk=director.pk).update(name="Other")
    loan.hand_out.findings.update(part="bell_bow", fault="dent_small", severity="light")
    Loan.objects.filter(pk=loan.pk).update(
        due_on="2030-01-01", lent_on="2029-01-01", replacement_amount=1, accessories=[]
    )
    late = paper_facts(signed(loan))
    assert "Other" not in str(late)
    assert late.pop("drawn")["marked"] == before.pop("drawn")["marked"]
    assert late == before


def test_what_was_signed_before_facts_were_kept_is_read_from_the_rows(school, director):
    loan = limited_loan(school, director)
    agreement = make_agreement(loan)
    kept = paper_facts(agreement)
    Agreement.objects.filter(pk=agreement.pk).update(facts={}, names={})
    assert paper_facts(signed(loan)) == kept
    Agreement.objects.filter(pk=agreement.pk).update(facts={"serial": "as it was"}, names={})
    assert paper_facts(signed(loan)) == kept | {"serial": "as it was"}


def test_nobody_is_named_in_the_facts(school, director):
    loan = limited_loan(school, director)
    facts = str(agreed_facts(loan))
    people = (loan.student.name, loan.student.guardian_name, director.name, loan.limits_reason)
    assert all(people)
    assert not [name for name in people if name in facts]


@pytest.mark.django_db
def test_of_several_tasks_for_one_paper_the_one_that_comes_first_is_shown():
    agreement = make_agreement()
    make_paper.using(priority=-10).enqueue(agreement=agreement.pk)
    make_paper.enqueue(agreement=agreement.pk, failures=2)
    assert waiting_papers(agreement)[agreement.pk].failures == 2
