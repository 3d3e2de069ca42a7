"""The loan agreement as a family reads it, the same on paper and on the page of a link."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from core.money import dollars
from inventory.models import VERDICT_LABELS
from inventory.pages.drawing import numbered, worst_marks
from inventory.rules.notes import signed
from inventory.rules.verdict import EffectGroup
from inventory.selectors.standing import standing_for
from loans.models import Addendum, Agreement, AgreementTerms
from loans.rules.terms import paragraphs_of
from loans.selectors.families import day_in, finding_in, thing_in, time_in, words_in
from loans.selectors.limits import limit_in

VERDICTS = {str(label): code.value for code, label in VERDICT_LABELS.items()}  # facts keep the English word
NOT_INSPECTED = "not_inspected"


def agreement_page(
    facts: Mapping[str, Any],
    terms: AgreementTerms,
    *,
    limits: tuple[str, ...] = (),
    limits_reason: str = "",
    signer: str = "",
) -> dict[str, Any]:
    """Return everything above the signatures, in the language of the terms.

    Without ``asset_number`` there is no instrument yet, and its lines are left open.
    """
    language, names = terms.language, facts["names"]
    words = words_in(language)
    is_named = bool(facts.get("asset_number"))
    verdict = VERDICTS.get(facts["verdict"], NOT_INSPECTED)
    return {
        "words": words,
        "language": language,
        "title": words["agreement"],
        "over": " · ".join(filter(None, (facts["district"], facts["school"]))),
        "known_on": words["known_on"].format(day=day_in(language, facts["known_on"])) if facts.get("known_on") else "",
        "number": facts.get("asset_number", ""),
        "is_named": is_named,
        "instrument": _instrument(facts, language) if is_named else _left_open(words),
        "borrower": _borrower(facts, names, language, signer),
        "verdict": words[verdict] if is_named else "",
        "is_inspected": verdict != NOT_INSPECTED,
        "findings": [finding_in(language, line) for line in facts.get("findings", ())],
        "picture": _picture(facts, language),
        "remarks": facts.get("remarks", ()),
        "photos": words["photos"].format(count=facts["photos"]) if facts.get("photos") else "",
        "limits": [signed(limit_in(language, line)) for line in limits],
        "limits_reason": words["limits_reason"].format(reason=limits_reason) if limits_reason else "",
        "accessories": [f"{row['count']} × {thing_in(language, row['name'])}" for row in facts.get("accessories", ())],
        "terms": words["terms"].format(version=terms.version),
        "paragraphs": paragraphs_of(terms.text),
        "questions": words["questions"].format(
            school=facts["school"], name=names["lent_by"], phone=facts.get("phone") or "—"
        ),
    }


def _instrument(facts: Mapping[str, Any], language: str) -> list[tuple[str, str]]:
    words, amount = words_in(language), facts["replacement_amount"]
    maker = facts["maker"] or words["not_known"]
    return [
        (words["number"], facts["asset_number"]),
        (words["kind"], thing_in(language, facts["kind"])),
        (words["serial"], facts["serial"] or words["none"]),
        (words["maker"], f"{maker}, {facts['model']}" if facts["model"] else maker),
        (words["value"], "—" if amount is None else dollars(amount)),
        (words["due"], day_in(language, facts["due_on"]) if facts["due_on"] else ""),
    ]


def _picture(facts: Mapping[str, Any], language: str) -> dict[str, Any] | None:
    """Return what the picture of the instrument shows and its findings with their numbers; None without findings."""
    signs = facts.get("signs")
    if not signs or len(signs) != len(facts["findings"]):  # the findings were signed before pictures were
        return None
    kind = standing_for(facts["kind_code"], facts["options"]).kind
    found = [
        (part, EffectGroup(group) if group else None, finding_in(language, line))
        for (part, group), line in zip(signs, facts["findings"], strict=True)
    ]
    marks = worst_marks(kind, found)
    name = thing_in(language, facts["kind"])
    return {"kind": kind, "marks": marks, "found": numbered(kind, found), "name": name} if marks else None


def _left_open(words: Mapping[str, str]) -> list[tuple[str, str]]:
    return [(words[key], "") for key in ("number", "kind", "serial", "maker", "value", "due")]


def _borrower(facts: Mapping[str, Any], names: Mapping[str, str], language: str, signer: str) -> list[tuple[str, str]]:
    words = words_in(language)
    if names.get("who"):
        lines = [(words["borrower"], names["student"])]
    else:
        lines = [
            (words["student"], names["student"]),
            (words["grade"], names["grade"]),
            (words["guardian"], names["guardian"] or signer),
        ]
    if facts.get("lent_on"):
        handed = words["handed_out_by"].format(day=day_in(language, facts["lent_on"]), name=names["lent_by"])
        lines.append((words["handed_out"], handed))
    return lines


def signed_words(agreement: Agreement) -> str:
    """Return how and when it was signed, in a sentence."""
    language = agreement.terms.language
    key = f"signed_{agreement.signed}"
    if agreement.signed == Agreement.Signed.PAPER and agreement.guardian_signer:
        key = "signed_paper_by"
    return words_in(language)[key].format(
        name=agreement.guardian_signer,
        day=day_in(language, agreement.signed_at),
        time=time_in(language, agreement.signed_at),
    )


def signers(agreement: Agreement, names: Mapping[str, str]) -> dict[str, str]:
    """Return whose signatures stand on the paper, and what is written below each."""
    words = words_in(agreement.terms.language)
    student = words["borrower_signs" if names.get("who") else "student_signs"].format(name=names["student"])
    return {
        "who": names.get("who", ""),
        "student": words["signature"].format(name=names["student"]),
        "signer": words["signature"].format(name=agreement.guardian_signer),
        "student_signs": student,
        "guardian_signs": words["guardian_signs"].format(name=agreement.guardian_signer),
    }


def signers_to_be(names: Mapping[str, str], language: str) -> list[str]:
    """Return whose signatures a paper asks for, each as it stands below the line."""
    words = words_in(language)
    if names.get("who"):
        return [words["borrower_signs"].format(name=names["student"])]
    return [
        words["student_signs"].format(name=names["student"]),
        words["guardian_signs"].format(name=names["guardian"]).strip(),
    ]


def addendum_page(addendum: Addendum, facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an addendum says, in the language of the agreement it belongs to."""
    agreement = addendum.agreement
    language, names = agreement.terms.language, facts["names"]
    words = words_in(language)
    return {
        "language": language,
        "title": words["addendum"],
        "over": " · ".join(filter(None, (facts["district"], facts["school"]))),
        "number": facts["asset_number"],
        "written_at": addendum.written_at,
        "lines": [
            (words["number"], facts["asset_number"]),
            (words["kind"], thing_in(language, facts["kind"])),
            (words["serial"], facts["serial"] or words["none"]),
            (words["borrower" if names.get("who") else "student"], names["student"]),
            (words["addendum_to"], day_in(language, agreement.signed_at)),
            (words["due_before"], day_in(language, addendum.due_before)),
            (words["due_now"], day_in(language, addendum.due_on)),
        ],
        "hash": f"SHA-256 {agreement.pdf_sha256}" if agreement.pdf_sha256 else "",
        "rest": words["addendum_rest"],
        "by": words["addendum_by"].format(day=day_in(language, addendum.written_at), name=addendum.actor.name),
        "questions": words["questions"].format(
            school=facts["school"], name=addendum.actor.name, phone=facts.get("phone") or "—"
        ),
    }
