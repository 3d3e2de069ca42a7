"""Terms and signatures."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest

from core.models import Event
from core.photos import clean_scan
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, AgreementTerms, Loan, facts_sha256
from loans.selectors.agreements import default_terms
from loans.services import change_due_dates, file_agreement_pdf, sign_agreement, terms_in_force, undo_loan, write_terms
from tests.contests import at_once
from tests.factories import NOW, make_ready_instrument, make_student, make_user
from tests.loans.makers import content, ink, make_agreement, make_loan, state_of_rows


def test_before_anybody_wrote_terms_the_programs_own_are_in_force(db):
    terms = terms_in_force(at=NOW)
    assert (terms.version, terms.text, terms.actor) == (1, default_terms(), None)
    assert terms_in_force(at=NOW) == terms


def test_a_change_is_a_new_version_and_old_papers_keep_theirs(director):
    agreement = make_agreement()
    new = write_terms(text="Play it every day.", actor=director, at=NOW)
    assert new.version == 2
    assert Agreement.objects.get(pk=agreement.pk).terms.version == 1
    assert make_agreement().terms == new


def test_the_same_words_are_no_new_version(director):
    first = write_terms(text="Play it.\r\n\r\nBring it back.", actor=director, at=NOW)
    assert write_terms(text="Play it.\n\nBring it back.\n", actor=director, at=NOW) == first


def test_nobody_writes_over_terms_that_were_not_read(director):
    write_terms(text="First.", seen=1, actor=director, at=NOW)
    with pytest.raises(AgreementRefusedError, match="saved new terms since"):
        write_terms(text="Second.", seen=1, actor=director, at=NOW)
    assert AgreementTerms.objects.count() == 2


def test_two_people_write_terms_at_the_same_moment_and_one_is_told(transactional_db):
    actor = make_user()
    results = at_once(
        *(lambda text=text: write_terms(text=text, seen=1, actor=actor, at=NOW) for text in ("One.", "Two."))
    )
    assert sum(isinstance(result, AgreementRefusedError) for result in results) == 1
    assert [terms.version for terms in AgreementTerms.objects.all()] == [2, 1]


@pytest.mark.parametrize("text", ["", "  \n ", "x" * 20_001])
def test_empty_or_endless_terms_are_refused(director, text):
    with pytest.raises(AgreementRefusedError):
        write_terms(text=text, actor=director, at=NOW)
    assert not AgreementTerms.objects.exists()


def test_signing_on_the_screen_keeps_both_signatures(director):
    loan = make_loan()
    agreement = make_agreement(loan)
    assert content(agreement.student_signature) == ink()
    assert agreement.guardian_signer == "Gale Guardian"
    event = Event.objects.get(act="agreement_signed")
    now = event.after.pop("now")
    assert event.after == {"loan": loan.pk, "signed": "screen", "terms": 1, "facts": facts_sha256(agreement.facts)}
    signatures = {name: getattr(agreement, name) for name in ("student_signature_sha256", "guardian_signature_sha256")}
    assert now == {"terms_id": agreement.terms_id, "scan_sha256": "", **signatures}
    assert signatures["student_signature_sha256"] == hashlib.sha256(content(agreement.student_signature)).hexdigest()


def test_a_paper_keeps_its_scan(director):
    scan = clean_scan(ink())
    agreement = make_agreement(signed="paper", scan=scan)
    assert content(agreement.scan) == scan.content
    assert not agreement.student_signature


@pytest.mark.parametrize(
    "change",
    [
        {"signed": "by_word"},
        {"student_signature": b""},
        {"guardian_signature": b""},
        {"guardian_signer": "  "},
        {"signed": "paper", "scan": None},
    ],
)
def test_an_incomplete_signing_is_refused(db, change):
    loan = make_loan()
    before = state_of_rows()
    with pytest.raises(AgreementRefusedError):
        make_agreement(loan, **change)
    assert state_of_rows() == before


def test_a_loan_is_signed_for_once(db):
    loan = make_loan()
    make_agreement(loan)
    before = state_of_rows()
    with pytest.raises(AgreementRefusedError):
        make_agreement(loan)
    assert state_of_rows() == before


def test_a_loan_that_was_a_mistake_is_not_signed_for(director):
    loan = undo_loan(loan=make_loan(), left_the_room=False, actor=director, at=NOW)
    before = state_of_rows()
    with pytest.raises(AgreementRefusedError, match="never lent"):
        make_agreement(loan)
    assert state_of_rows() == before


def test_what_changed_since_the_page_was_read_counts_when_it_is_signed(director):
    undone, moved = make_loan(), make_loan()
    undo_loan(loan=Loan.objects.get(pk=undone.pk), left_the_room=False, actor=director, at=NOW)
    with pytest.raises(AgreementRefusedError, match="never lent"):
        make_agreement(undone)
    day = moved.due_on + timedelta(days=3)
    change_due_dates(loans=[Loan.objects.get(pk=moved.pk)], due_on=day, actor=director, at=NOW)
    assert make_agreement(moved).facts["due_on"] == day.isoformat()


def test_the_terms_that_were_read_are_the_terms_that_are_signed(director):
    read = terms_in_force(at=NOW)
    write_terms(text="Changed while the page was open.", actor=director, at=NOW)
    loan = make_loan()
    agreement = sign_agreement(
        loan=loan,
        signed="paper",
        scan=clean_scan(ink()),
        terms=read,
        actor=director,
        at=NOW,
    )
    assert agreement.terms == read


def test_the_paper_is_kept_once_with_its_hash(director):
    agreement = make_agreement()
    kept = file_agreement_pdf(agreement=agreement, data=b"%PDF-1.7 first", actor=director, at=NOW)
    again = file_agreement_pdf(agreement=agreement, data=b"%PDF-1.7 second", actor=director, at=NOW)
    assert kept.pdf_sha256 == again.pdf_sha256 == hashlib.sha256(b"%PDF-1.7 first").hexdigest()
    assert content(again.pdf) == b"%PDF-1.7 first"
    assert Event.objects.filter(act="agreement_filed").count() == 1


def test_a_member_of_staff_signs_alone(school):
    adult = make_student(school=school, who="staff", grade="")
    loan = make_loan(student=adult, instrument=make_ready_instrument(school=school))
    with pytest.raises(AgreementRefusedError, match="borrower"):
        make_agreement(loan, student_signature=b"", guardian_signature=b"", guardian_signer="")
    agreement = make_agreement(loan, guardian_signature=b"", guardian_signer="")
    assert (agreement.guardian_signer, agreement.names["who"], agreement.names["guardian"]) == ("", "staff", "")
