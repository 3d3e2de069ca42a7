"""Which words are signed, and what the paper says."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.translation import override

from core.models import User
from core.traces import log_differences
from inventory.models import Instrument, ListRemark, School
from inventory.selectors.standing import standing_of
from inventory.services.registering import change_instrument
from loans.models import Agreement, AgreementTerms, Loan, Student
from loans.pdf import content_of
from loans.selectors.agreements import (
    agreed_facts,
    current_terms,
    default_terms,
    facts_to_sign,
    paper_facts,
    terms_of_key,
)
from loans.services import write_terms
from loans.tasks import print_agreement
from tests.factories import NOW, make_inspection, make_instrument, make_limited_instrument, make_student
from tests.loans.makers import make_agreement, make_loan
from tests.loans.pdf.test_agreements import words


def test_before_anybody_wrote_terms_the_programs_own_are_shown_and_no_row_is_written(db):
    shown = current_terms()
    assert (shown.version, shown.text) == (1, default_terms())
    assert terms_of_key("1").text == shown.text
    assert terms_of_key("2") is None
    assert not AgreementTerms.objects.exists()


def test_an_older_version_is_found_as_it_was_read(director):
    newer = write_terms(text="Bring it back dry.", actor=director, at=NOW)
    assert current_terms() == newer
    assert terms_of_key(newer.key) == newer
    assert terms_of_key("1").text == default_terms()


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


def limited_loan(school: School, director: User) -> Loan:
    instrument = make_limited_instrument(school=school)
    return make_loan(instrument=instrument, actor=director, limits_reason="Plays the upper part.")


def signed(loan: Loan) -> Agreement:
    """Read again, as whoever prints it does."""
    return Agreement.objects.for_paper().get(loan=loan)


def test_each_language_has_versions_of_its_own(director):
    assert current_terms("es").text == default_terms("es")
    newer = write_terms(text="Devuélvelo seco.", language="es", actor=director, at=NOW)
    assert (newer.version, newer.key) == (2, "es-2")
    assert terms_of_key("es-2") == newer
    assert terms_of_key("es-1").text == default_terms("es")
    assert current_terms().version == 1
    for odd in ("", "fr-1", "es-", "-1", "1e", "1" * 7, "es-0", "\u0662"):
        assert terms_of_key(odd) is None


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
    Student.objects.filter(pk=loan.student_id).update(name="Other", grade="12")
    loan.student.guardians.update(name="Other")
    School.objects.filter(pk=school.pk).update(name="Other School")
    type(director).objects.filter(pk=director.pk).update(name="Other")
    loan.hand_out.findings.update(part="bell_bow", fault="dent_small", severity="light")
    Loan.objects.filter(pk=loan.pk).update(
        due_on="2030-01-01", lent_on="2029-01-01", replacement_amount=1, accessories=[]
    )
    late = paper_facts(signed(loan))
    assert "Other" not in str(late)
    assert late == before


def test_what_was_signed_before_facts_were_kept_is_read_from_the_rows(school, director):
    loan = limited_loan(school, director)
    agreement = make_agreement(loan)
    kept = paper_facts(agreement)
    Agreement.objects.filter(pk=agreement.pk).update(facts={}, names={})
    assert paper_facts(signed(loan)) == kept
    Agreement.objects.filter(pk=agreement.pk).update(facts={"serial": "as it was"}, names={})
    assert paper_facts(signed(loan)) == kept | {"serial": "as it was"}


def test_what_is_signed_keeps_how_each_finding_affects_playing(school, director):
    loan = limited_loan(school, director)
    effects = {one.finding.part: one.group.value for one in standing_of(loan.instrument).judgement.effects}
    facts = facts_to_sign(loan)
    assert dict(facts["signs"]) == effects != {}
    assert len(facts["signs"]) == len(facts["findings"])
    assert "signs" not in agreed_facts(loan), "a link sent before shows what it showed"


def test_nobody_is_named_in_the_facts(school, director):
    loan = limited_loan(school, director)
    facts = str(agreed_facts(loan))
    people = (loan.student.name, loan.student.guardian.name, director.name, loan.limits_reason)
    assert all(people)
    assert not [name for name in people if name in facts]


def test_what_a_list_said_stands_on_the_paper_of_what_went_out_uninspected(school, director):
    instrument = make_instrument(school=school)
    make_student(school=school, name="Billy Stone")
    for text in ("2nd valve sticks", "Dent, ask billy"):
        ListRemark.objects.create(instrument=instrument, said_at=NOW, text=text)
    loan = make_loan(instrument=instrument, actor=director)
    Loan.objects.filter(pk=loan.pk).update(hand_out=None)
    loan.refresh_from_db()
    assert agreed_facts(loan)["remarks"] == ["2nd valve sticks"], "the other one names a student"
    ListRemark.objects.create(instrument=instrument, said_at=NOW + timedelta(days=1), text="Said later")
    printed = print_agreement(agreement=make_agreement(loan), actor=director, at=NOW)
    said = words(content_of(printed.pdf))
    assert "Not inspected. The school's list says: 2nd valve sticks" in said.replace("• ", "")
    assert "Said later" not in said
    loan.hand_out = make_inspection(instrument=instrument)
    assert "remarks" not in agreed_facts(loan)


def test_a_paper_made_from_the_rows_says_so_with_the_day_and_the_page_too(client, school, director):
    loan = limited_loan(school, director)
    agreement = make_agreement(loan)
    Agreement.objects.filter(pk=agreement.pk).update(facts={"serial": "as it was"})
    client.force_login(director)
    page = reverse("loans:loan", args=[loan.pk])
    assert "not as signed" in client.get(page).text
    printed = print_agreement(agreement=signed(loan), actor=director, at=NOW)
    said = words(content_of(printed.pdf))
    assert f"as known on {NOW:%B} {NOW.day}, {NOW.year}, not as signed" in said
    assert printed.facts == {"serial": "as it was", "known_on": f"{NOW:%Y-%m-%d}"}
    text = " ".join(client.get(page).text.split())
    assert f"as known on {NOW:%b} {NOW.day}, {NOW.year}, not as signed" in text
    assert not [line for line in log_differences() if "facts" in line]


def test_a_paper_made_from_what_was_kept_says_nothing_of_the_kind(client, school, director):
    loan = limited_loan(school, director)
    make_agreement(loan)
    printed = print_agreement(agreement=signed(loan), actor=director, at=NOW)
    assert "not as signed" not in words(content_of(printed.pdf))
    client.force_login(director)
    assert "not as signed" not in client.get(reverse("loans:loan", args=[loan.pk])).text


def test_what_is_agreed_does_not_hang_on_the_language_of_whoever_prints_it(school, director):
    instrument = make_limited_instrument(school=school)
    loan = make_loan(school=school, instrument=instrument, actor=director, limits_reason="Not for these notes.")
    in_english = agreed_facts(loan)
    with override("es-mx"):
        assert agreed_facts(loan) == in_english
    assert in_english["kind"] == "Trumpet"
    assert in_english["verdict"] == "Plays with limits"
