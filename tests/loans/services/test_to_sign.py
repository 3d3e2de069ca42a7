"""Papers to sign: one each, printed again under the code they have, used once, gone with the student."""

from __future__ import annotations

import pytest
from django.core.files.storage import default_storage

from core.events import broken_links
from core.photos import clean_scan
from core.traces import log_differences
from loans.exceptions import AgreementRefusedError
from loans.models import PaperToSign
from loans.rules.codes import code_in
from loans.services import erase_student, write_terms
from loans.services.to_sign import keep_signed_paper, print_papers, use_paper
from tests.factories import NOW, make_ready_instrument, make_school, make_student
from tests.loans.makers import ink, make_agreement, make_loan, make_paper


@pytest.fixture
def students(school):
    return [make_student(school=school) for _ in range(3)]


def untold():
    """What the log says otherwise of papers; the people of a test were never added by an act."""
    return [line for line in log_differences() if "paper to sign" in line]


def printed(students, director, **named):
    return print_papers(students=students, actor=director, at=NOW, **named)


def test_each_student_has_a_paper_with_a_code_of_its_own(students, director):
    papers = printed(students, director)
    assert [paper.student for paper in papers] == students
    assert len({paper.code for paper in papers}) == 3
    assert all(code_in(paper.code) == paper.code for paper in papers)
    assert untold() == []
    assert list(broken_links()) == []


def test_printed_again_it_keeps_its_code_until_something_differs(students, director):
    codes = [paper.code for paper in printed(students, director)]
    assert [paper.code for paper in printed(students, director)] == codes
    write_terms(text="Other words.", actor=director, at=NOW)
    assert {paper.code for paper in printed(students, director)}.isdisjoint(codes)


def test_what_is_out_is_named_by_itself(school, director, students):
    loan = make_loan(school=school, student=students[0], actor=director)
    named, *others = printed(students, director)
    assert (named.loan, named.instrument) == (loan, loan.instrument)
    assert named.facts["asset_number"] == loan.instrument.asset_number
    assert {other.instrument for other in others} == {None}
    assert not [person for person in (students[0].name, director.name) if person in str(named.facts)]


def test_an_instrument_is_named_for_one_student_of_its_school(school, director, students):
    instrument = make_ready_instrument(school=school)
    (paper,) = printed(students[:1], director, instrument=instrument)
    assert paper.facts["verdict"] == "Plays"
    with pytest.raises(AgreementRefusedError, match="one student"):
        printed(students, director, instrument=instrument)
    with pytest.raises(AgreementRefusedError, match="another school"):
        printed(students[:1], director, instrument=make_ready_instrument(school=make_school()))


def test_it_is_used_once(school, director):
    loan = make_loan(school=school, actor=director)
    paper = make_paper(student=loan.student, actor=director)
    agreement = make_agreement(loan)
    use_paper(paper=paper, agreement=agreement, actor=director, at=NOW)
    with pytest.raises(AgreementRefusedError, match="already used"):
        keep_signed_paper(paper=paper, scan=clean_scan(ink()), actor=director, at=NOW)
    assert untold() == []


def test_erasing_the_student_takes_the_scan_that_waits(director, students, django_capture_on_commit_callbacks):
    (paper,) = printed(students[:1], director)
    kept = keep_signed_paper(paper=paper, scan=clean_scan(ink()), actor=director, at=NOW)
    assert default_storage.exists(kept.scan.name)
    with django_capture_on_commit_callbacks(execute=True):
        erase_student(student=students[0], actor=director, at=NOW)
    assert not default_storage.exists(kept.scan.name)
    assert not PaperToSign.objects.open().exists()
    assert PaperToSign.objects.get().scan_sha256 == ""
    assert untold() == []
