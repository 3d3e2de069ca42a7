"""Terms, signatures, and the paper a family keeps."""

from __future__ import annotations

import hashlib
from datetime import date, datetime
from typing import Any, Required, TypedDict
from uuid import UUID

from django.core.files.base import ContentFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from core.acts import lock_row, service
from core.events import already, new_salt, record_event
from core.models import User
from core.photos import CleanScan
from core.traces import NOW, as_left
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument
from loans.exceptions import AgreementRefusedError
from loans.models import SALT, Agreement, AgreementTerms, Guardian, Loan, Student, facts_sha256, terms_sha256
from loans.rules.terms import ENGLISH
from loans.selectors.agreements import agreed_names, current_terms, facts_to_sign

OVERTAKEN = gettext_lazy("Someone else has saved new terms since. Reload the page, read them, and save yours again.")


class Signing(TypedDict, total=False):
    """How it was signed, and which terms; as ``sign_agreement`` takes it."""

    signed: Required[str]
    terms: AgreementTerms
    student_signature: bytes
    guardian_signature: bytes
    guardian_signer: str
    scan: CleanScan | None
    guardian: Guardian


@service(once="nonce")
def write_terms(
    *,
    text: str,
    actor: User | None,
    at: datetime,
    seen: int | None = None,
    nonce: UUID | None = None,
    language: str = ENGLISH,
) -> AgreementTerms:
    """Save a new version of the terms; papers already signed keep theirs. The same text again is not a new version.

    ``seen`` is the version the user read; refused if there is a newer one.
    """
    words = text.replace("\r\n", "\n").strip()
    if not words:
        raise AgreementRefusedError(_("The terms cannot be empty."))
    if len(words) > 20_000:
        raise AgreementRefusedError(_("The terms are longer than 20,000 characters. Shorten them."))
    newest = terms_in_force(at=at, language=language)
    if newest.text == words:
        return newest
    if seen is not None and seen != newest.version:
        raise AgreementRefusedError(already(str(OVERTAKEN), subject=newest, acts=["terms_written"]))
    terms = AgreementTerms.objects.create(
        text=words, language=language, version=newest.version + 1, written_at=at, actor=actor
    )
    record_event(act="terms_written", subject=terms, after=_in_event(terms))
    return terms


def _in_event(terms: AgreementTerms) -> dict[str, Any]:
    return {"version": terms.version, "language": terms.language, NOW: {"sha256": terms_sha256(terms.text)}}


@service
def terms_in_force(*, at: datetime, language: str = ENGLISH) -> AgreementTerms:
    """Return the newest terms in a language, saving the default terms as version 1 if there are none."""
    newest = current_terms(language)
    if not newest._state.adding:
        return newest
    first, is_new = AgreementTerms.objects.get_or_create(
        version=newest.version, language=language, defaults={"text": newest.text, "written_at": at, "actor": None}
    )
    if is_new:
        record_event(actor=None, act="terms_written", subject=first, after=_in_event(first))
    return first


@service
def sign_agreement(
    *,
    loan: Loan,
    signed: str,
    actor: User | None,
    at: datetime,
    terms: AgreementTerms | None = None,
    student_signature: bytes = b"",
    guardian_signature: bytes = b"",
    guardian_signer: str = "",
    scan: CleanScan | None = None,
    guardian: Guardian | None = None,
) -> Agreement:
    """Store the signatures (cleaned PNG bytes), the scan of the signed paper or the text of a link, and what was agreed.

    A loan is signed once. ``guardian`` is whom the link asked, ``actor`` is None there. ``terms`` are those the family
    read (the default terms may be unsaved); by default, the current ones. The PDF is made afterward: ``loans.tasks``.
    """
    if signed not in Agreement.Signed.values:
        raise AgreementRefusedError(_("Choose whether it is signed on screen or on paper."))
    if signed == Agreement.Signed.SCREEN:
        _check_signed(loan.student, student_signature, guardian_signature, guardian_signer)
        scan = None
    elif scan is None:
        raise AgreementRefusedError(_("Add a scan or photo of the signed paper."))
    elif signed == Agreement.Signed.LINK and not guardian_signer.strip():
        raise AgreementRefusedError(_("Enter the name of the guardian who signs."))
    else:
        student_signature = guardian_signature = b""
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(loan, "agreement")
    loan.undone_at, loan.due_on = fresh.undone_at, fresh.due_on  # all that may have changed while it was open
    if loan.undone_at is not None:
        raise AgreementRefusedError(_("This loan was a mistake and counts as never lent. There is nothing to sign."))
    if there := getattr(fresh, "agreement", None):
        words = _("This loan's agreement is already signed.")
        raise AgreementRefusedError(already(words, subject=there, acts=["agreement_signed"]))
    loan.instrument = instrument
    agreement = Agreement(
        loan=loan,
        facts=facts_to_sign(loan) | {SALT: new_salt()},
        names=agreed_names(loan, guardian),
        terms=_saved(terms, at=at),
        signed=signed,
        signed_at=at,
        guardian_signer=" ".join(guardian_signer.split())[:120],
    )
    _keep_files(agreement, student_signature, guardian_signature, scan)
    agreement.save(force_insert=True)
    log_event(
        instrument=instrument,
        act="agreement_signed",
        subject=agreement,
        after={
            "loan": loan.pk,
            "signed": signed,
            "terms": agreement.terms.version,
            "facts": facts_sha256(agreement.facts),
            **as_left(agreement, "terms_id", "scan_sha256", "student_signature_sha256", "guardian_signature_sha256"),
        },
    )
    return agreement


def _saved(terms: AgreementTerms | None, *, at: datetime) -> AgreementTerms:
    """Return the terms that were read as a row, or those in force."""
    if terms is not None and terms.pk:
        return terms
    return terms_in_force(at=at, language=terms.language if terms else ENGLISH)


def _check_signed(borrower: Student, signature: bytes, guardian_signature: bytes, guardian_signer: str) -> None:
    if not borrower.has_guardians:
        if not signature:
            raise AgreementRefusedError(_("The borrower must sign."))
        return
    if not (signature and guardian_signature):
        raise AgreementRefusedError(_("Both the student and the guardian must sign."))
    if not guardian_signer.strip():
        raise AgreementRefusedError(_("Enter the name of the guardian who signs."))


def _keep_files(agreement: Agreement, student: bytes, guardian: bytes, scan: CleanScan | None) -> None:
    """Write the files before the row refers to them; a rollback leaves at most an orphaned file."""
    stem = f"loan-{agreement.loan_id}"
    if student:
        agreement.student_signature.save(f"{stem}-student.png", ContentFile(student), save=False)
        agreement.student_signature_sha256 = hashlib.sha256(student).hexdigest()
    if guardian:
        agreement.guardian_signature.save(f"{stem}-guardian.png", ContentFile(guardian), save=False)
        agreement.guardian_signature_sha256 = hashlib.sha256(guardian).hexdigest()
    if scan:
        agreement.scan.save(f"{stem}{scan.extension}", ContentFile(scan.content), save=False)
        agreement.scan_sha256 = hashlib.sha256(scan.content).hexdigest()


@service
def file_agreement_pdf(
    *, agreement: Agreement, data: bytes, actor: User | None, at: datetime, known_on: date | None = None
) -> Agreement:
    """Store the rendered paper and its SHA-256; a second one changes nothing.

    ``known_on``: it says what is known that day, as the facts were not kept when it was signed.
    """
    instrument = lock_instrument(agreement.loan.instrument_id)
    fresh = lock_row(agreement)
    if fresh.pdf or fresh.pdf_sha256:
        return fresh
    fresh.pdf_sha256 = hashlib.sha256(data).hexdigest()
    fresh.pdf.save(f"loan-{fresh.loan_id}.pdf", ContentFile(data), save=False)
    if known_on:
        fresh.facts["known_on"] = known_on.isoformat()
    fresh.save(update_fields=["pdf", "pdf_sha256", "facts"])
    log_event(
        instrument=instrument,
        school=agreement.loan.school_id,
        act="agreement_filed",
        subject=fresh,
        after={"sha256": fresh.pdf_sha256} | ({"facts": facts_sha256(fresh.facts)} if known_on else {}),
    )
    return fresh
