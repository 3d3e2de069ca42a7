"""The terms, and what goes on the paper."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.dateparse import parse_date

from core.events import plain
from inventory.catalog.load.language import stored_language
from inventory.models import VERDICT_LABELS, ListRemark, Verdict
from inventory.rules.facts import FindingFact
from inventory.selectors.setup import district_name
from inventory.selectors.standing import standing_of
from loans.models import SALT, Agreement, AgreementTerms, Guardian, Loan, Student
from loans.rules.matching import person_key
from loans.rules.terms import ENGLISH
from loans.selectors.comparing import findings_in_words, handed_out_with

TERMS_KEY = re.compile(r"(?:(en|es)-)?([0-9]{1,6})")


@cache
def default_terms(language: str = ENGLISH) -> str:
    """Return the terms to begin with, to be replaced by each district's own. Not legal advice."""
    name = "terms.txt" if language == ENGLISH else f"terms_{language}.txt"
    return (Path(settings.BASE_DIR) / "fixtures" / name).read_text(encoding="utf-8").strip()


def current_terms(language: str = ENGLISH) -> AgreementTerms:
    """Return the newest version; if there is none, the default terms as version 1, unsaved: a page can name it."""
    newest = AgreementTerms.objects.filter(language=language).first()
    return newest or AgreementTerms(text=default_terms(language), language=language, version=1)


def terms_of_key(key: str) -> AgreementTerms | None:
    """Return one version (``AgreementTerms.key``), or the unsaved default terms, or None."""
    found = TERMS_KEY.fullmatch(key)
    if found is None:
        return None
    language, version = found[1] or ENGLISH, int(found[2])
    newest = current_terms(language)
    if newest.version == version:
        return newest
    return AgreementTerms.objects.filter(language=language, version=version).first()


def listed_remarks(loans: Collection[Loan]) -> dict[int, list[str]]:
    """Return by loan what an imported list had said of an instrument that nobody inspected before it went out.

    Without the remarks in which a word is a word of the name of one of the school's students: the family of another
    one reads this. Two queries at most.
    """
    bare = [loan for loan in loans if loan.hand_out_id is None]
    rows = ListRemark.objects.filter(instrument__in={loan.instrument_id for loan in bare}) if bare else ()
    remarks = [(row.instrument_id, row.said_at, row.text, _words_of(row.text)) for row in rows]
    if not remarks:
        return {}
    schools = {loan.school_id for loan in bare}
    names = Student.objects.filter(school__in=schools).exclude(name="").values_list("name", flat=True)
    people = frozenset().union(*(_words_of(name) for name in names))
    return {
        loan.pk: texts
        for loan in bare
        if (
            texts := [
                text
                for instrument, said_at, text, words in remarks
                if instrument == loan.instrument_id and said_at <= loan.lent_at and words.isdisjoint(people)
            ]
        )
    }


def _words_of(text: str) -> frozenset[str]:
    return frozenset(word for word in person_key(text).split() if len(word) > 1)


@stored_language()
def agreed_facts(
    loan: Loan,
    *,
    found: Sequence[FindingFact] | None = None,
    district: str | None = None,
    remarks: Sequence[str] | None = None,
) -> dict[str, Any]:
    """Return what is agreed about instrument and loan, as JSON keeps it from signing on.

    No person's name is in it, and of what staff typed only what names the instrument and what a list said of it.
    ``findings`` are the lines that the family reads. Of many loans, ``found``, ``district`` and ``remarks`` are what
    was read for all of them at once.
    """
    instrument, hand_out = loan.instrument, loan.hand_out
    found = handed_out_with(loan) if found is None else found
    remarks = listed_remarks([loan]).get(loan.pk, []) if remarks is None else remarks
    return ({"remarks": list(remarks)} if remarks else {}) | plain(
        {
            "district": district_name() if district is None else district,
            "school": loan.school.name,
            "phone": loan.school.phone,
            "asset_number": instrument.asset_number,
            "kind_code": instrument.kind_code,
            "kind": instrument.kind.name,
            "options": instrument.options,
            "maker": instrument.maker,
            "model": instrument.model,
            "serial": instrument.serial,
            "replacement_amount": loan.replacement_amount,
            "lent_on": loan.lent_on,
            "due_on": loan.due_on,
            "accessories": [{"name": row["name"], "count": row["count"]} for row in loan.accessories],
            "verdict": VERDICT_LABELS[Verdict((hand_out and hand_out.verdict) or Verdict.NOT_INSPECTED)],
            "is_inspected": hand_out is not None,
            "findings": findings_in_words(instrument.kind, found),
            "photos": hand_out.photos.count() if hand_out else 0,
        }
    )


def facts_to_sign(loan: Loan) -> dict[str, Any]:
    """Return what is agreed with ``signs``: of each finding its part and how it affects playing, for the picture."""
    found = handed_out_with(loan)
    facts = agreed_facts(loan, found=found)
    if not found:
        return facts
    stands = standing_of(loan.instrument, findings=found, is_inspected=True, slides={})
    groups = {effect.finding.key: effect.group.value for effect in stands.judgement.effects}
    return facts | {"signs": [[fact.part, groups.get(fact.key, "")] for fact in found]}


def agreed_names(loan: Loan, guardian: Guardian | None = None) -> dict[str, str]:
    """Return the people the paper names besides the signer; they are erased with the student.

    ``guardian`` is the one whom a link asks to sign, or by default the first.
    """
    student = loan.student
    guardian = guardian or student.guardian
    who = {} if student.has_guardians else {"who": student.who}
    return who | {
        "student": student.name,
        "grade": student.grade,
        "guardian": guardian.name if guardian else "",
        "lent_by": loan.actor.name,
    }


def has_all_facts(agreement: Agreement) -> bool:
    """Whether what was agreed was kept when it was signed."""
    return not {"phone", "found"}.isdisjoint(agreement.facts)  # older ones had what was drawn


def paper_facts(agreement: Agreement) -> dict[str, Any]:
    """Return what the paper says, as it was signed; whatever was not kept then is read from the rows.

    ``known_on`` is a day where the facts are as known then, not as signed.
    """
    loan = agreement.loan
    kept = {name: value for name, value in agreement.facts.items() if name != SALT}
    facts: dict[str, Any] = kept if has_all_facts(agreement) else facts_to_sign(loan) | kept
    return read_facts(facts, names=agreement.names or agreed_names(loan))


def read_facts(facts: Mapping[str, Any], *, names: Mapping[str, str]) -> dict[str, Any]:
    """Return kept facts as the page of an agreement takes them, with the people beside them."""
    amount = facts.get("replacement_amount")
    return {
        "known_on": None,
        "verdict": "",
        **facts,
        "names": names,
        "replacement_amount": None if amount is None else Decimal(amount),
        "lent_on": parse_date(facts.get("lent_on") or ""),
        "due_on": parse_date(facts.get("due_on") or ""),
    }
