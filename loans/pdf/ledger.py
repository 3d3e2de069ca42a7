"""Receipts, and the statement of an account as a letter to the family."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone

from core.models import User
from core.money import dollars
from core.pdf import render_pdf
from inventory.catalog.load.language import stored_language
from loans.models import LedgerEntry, Student
from loans.pages.ledger import account_lines, receipt_number
from loans.rules.ledger import Sort
from loans.selectors.families import day_in, thing_in, words_in
from loans.selectors.ledger import entries_of, owed_after, owed_by


def receipt_pdf(entry: LedgerEntry, *, language: str, at: datetime) -> bytes:
    """Return the receipt of a payment or a refund; of one that was taken back it says so."""
    words, owed = words_in(language), owed_after(entry)
    title = words["receipt" if entry.sort == Sort.PAYMENT else "receipt_refund"].format(number=receipt_number(entry))
    lines = [
        (words["date"], day_in(language, entry.on)),
        (words["amount"], dollars(entry.amount)),
        (words["how"], _by(entry, language)),
        (words["note"], entry.note),
        (words["for_account"], entry.student.name),
        (words["balance_after"], dollars(owed)),
        (words["received_by"], str(entry.actor)),
    ]
    void = entry.reversal
    return _paper(
        language,
        at,
        title=title,
        over=entry.school.name,
        void=words["taken_back"].format(day=day_in(language, void.on)) if void else "",
        pairs=[(label, text) for label, text in lines if text],
    )


@stored_language()
def statement_pdf(student: Student, *, language: str, sender: User, at: datetime) -> bytes:
    """Return the account as a letter: what is owed in a sentence, then every entry with the balance after it."""
    words, owed = words_in(language), owed_by(student)
    guardian = student.guardian_name
    sentence = "owes" if owed > 0 else "is_owed" if owed < 0 else "settled"
    return _paper(
        language,
        at,
        title=words["statement"],
        over=f"{student.school.name} · " + words["as_of"].format(day=day_in(language, timezone.localdate(at))),
        address=student.school.address,
        dear=words["dear"].format(name=guardian) if guardian else words["dear_family"].format(student=student.name),
        sentence=words[sentence].format(student=student.name, amount=dollars(abs(owed))),
        lines=[_line(line, language) for line in account_lines(entries_of(student)) if line["moved"]],
        is_statement=True,
        sum_label=words["balance_credit" if owed < 0 else "balance_owed"],
        sum=dollars(abs(owed)),
        questions=words["questions"].format(school=student.school.name, name=sender, phone=student.school.phone or "—"),
    )


def _line(line: dict[str, Any], language: str) -> dict[str, Any]:
    entry, words, moved = line["entry"], words_in(language), line["moved"]
    taken_back = entry.reverses
    what = words[f"sort_{entry.sort}"]
    if taken_back is not None:
        what = f"{what}: {words[f'sort_{taken_back.sort}']}"
    by = _by(entry, language)
    about = line["instrument"]
    parts = [f"{what}, {by}" if by else what, "" if taken_back else entry.note]
    if about:
        parts.append(f"{thing_in(language, about.kind.name)} {about.asset_number}")
    return {
        "day": day_in(language, entry.on),
        "what": " · ".join(filter(None, parts)),
        "charged": dollars(moved) if moved > 0 else "",
        "paid": dollars(-moved) if moved < 0 else "",
        "owed": dollars(line["owed"]),
    }


def _by(entry: LedgerEntry, language: str) -> str:
    by = entry.reckoning.get("by", "")
    return words_in(language)[f"by_{by}"] if by else ""


def _paper(language: str, at: datetime, **context: Any) -> bytes:
    words = words_in(language)
    html = render_to_string(
        "loans/papers/ledger.html", {"language": language, "words": words, "at": timezone.localtime(at), **context}
    )
    return render_pdf(html=html, stylesheets=[render_to_string("loans/papers/ledger.css")], is_tagged=True)
