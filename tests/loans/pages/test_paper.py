"""What a family reads: the same lines on paper and on a page."""

from __future__ import annotations

from django.template.loader import render_to_string

from loans.pages.paper import agreement_page, signed_words
from loans.selectors.agreements import paper_facts
from tests.loans.makers import unsaved_agreement


def page(**changed):
    agreement = unsaved_agreement(**changed)
    return agreement_page(paper_facts(agreement), agreement.terms, signer=agreement.guardian_signer)


def test_without_an_instrument_its_lines_are_left_open():
    shown = page(asset_number="")
    assert not shown["is_named"]
    assert {value for _, value in shown["instrument"]} == {""}
    assert "Trumpet" not in str(shown["instrument"])


def test_the_signer_stands_for_a_guardian_nobody_named():
    assert ("Guardian", "Gale Reed") in page(guardian="")["borrower"]


def test_a_paper_says_who_signed_it_where_that_is_known():
    assert signed_words(unsaved_agreement(signed="paper")).startswith("Signed on paper by Gale Reed;")
    assert signed_words(unsaved_agreement(signed="paper", guardian_signer="")).startswith("Signed on paper; the scan")


def test_what_nobody_has_inspected_is_not_said_to_have_no_findings():
    agreement = unsaved_agreement()
    for verdict, is_said in (("Plays", True), ("Not inspected", False)):
        facts = paper_facts(agreement) | {"verdict": verdict, "findings": []}
        text = render_to_string("loans/agreement/body.html", {"paper": agreement_page(facts, agreement.terms)})
        assert f"{verdict}." in text
        assert ("No findings" in text) is is_said


def test_a_spanish_paper_says_the_findings_in_spanish():
    agreement = unsaved_agreement()
    kept = paper_facts(agreement)
    assert kept["findings"]
    english = agreement_page(kept, agreement.terms)["findings"]
    agreement.terms.language = "es"
    spanish = agreement_page(kept, agreement.terms)["findings"]
    assert english == list(kept["findings"])
    assert len(spanish) == len(english)
    assert spanish[0] == "Codo y tubo de la campana: abolladura o golpe, leve"


def test_a_spanish_paper_says_the_limits_in_spanish():
    agreement = unsaved_agreement()
    agreement.terms.language = "es"
    limits = ("These first-year notes do not sound: C4.", "Slow to speak, says the tech.")
    shown = agreement_page(paper_facts(agreement), agreement.terms, limits=limits)["limits"]
    assert shown == ["No suenan estas notas (primer año): do 4.", "Slow to speak, says the tech."]
