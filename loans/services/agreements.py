"""Terms, signatures, and the paper that a family keeps."""

from __future__ import annotations

import hashlib
from datetime import datetime

from django.core.files.base import ContentFile

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.photos import CleanScan
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, AgreementTerms, Loan
from loans.selectors import current_terms

OVERTAKEN = "Somebody else has saved new terms at the same moment. Load the page, look, and save yours again."


@service
def write_terms(*, text: str, actor: User | None, at: datetime, seen: int | None = None) -> AgreementTerms:
    """Make a new version of the terms; papers signed before keep theirs. The same text again is no new version.

    ``seen`` is the version that was read; refused when there is a newer one.
    """
    words = text.replace("\r\n", "\n").strip()
    if not words:
        raise AgreementRefusedError("The terms cannot be empty.")
    if len(words) > 20_000:
        raise AgreementRefusedError("The terms are longer than 20,000 characters. Shorten them.")
    newest = terms_in_force(at=at)
    if newest.text == words:
        return newest
    if seen is not None and seen != newest.version:
        raise AgreementRefusedError(OVERTAKEN)
    terms = AgreementTerms.objects.create(text=words, version=newest.version + 1, written_at=at, actor=actor)
    record_event(act="terms_written", subject=terms, after={"version": terms.version})
    return terms


@service
def terms_in_force(*, at: datetime) -> AgreementTerms:
    """The newest terms as a row; where nobody has written any, the program's own become version 1."""
    newest = current_terms()
    if not newest._state.adding:
        return newest
    first, is_new = AgreementTerms.objects.get_or_create(
        version=newest.version, defaults={"text": newest.text, "written_at": at, "actor": None}
    )
    if is_new:
        record_event(actor=None, act="terms_written", subject=first, after={"version": first.version})
    return first


@service
def sign_agreement(
    *,
    loan: Loan,
    signed: str,
    actor: User,
    at: datetime,
    terms: AgreementTerms | None = None,
    student_signature: bytes = b"",
    guardian_signature: bytes = b"",
    guardian_signer: str = "",
    scan: CleanScan | None = None,
) -> Agreement:
    """Keep the signatures (PNG bytes, cleaned) or the scan of the signed paper. A loan is signed for once.

    ``terms`` are those that were read (the program's own need be no row yet); without them, those in force. The PDF is
    made afterwards: see ``loans.tasks``.
    """
    if signed not in Agreement.Signed.values:
        raise AgreementRefusedError("Say whether it is signed on the screen or on paper.")
    if signed == Agreement.Signed.SCREEN:
        if not (student_signature and guardian_signature):
            raise AgreementRefusedError("Both sign: the student and the guardian.")
        if not guardian_signer.strip():
            raise AgreementRefusedError("Say the name of the guardian who signs.")
        scan = None
    elif scan is None:
        raise AgreementRefusedError("Add a scan or a photo of the signed paper.")
    else:
        student_signature = guardian_signature = b""
    instrument = lock_instrument(loan.instrument_id)
    if Agreement.objects.filter(loan=loan).exists():
        raise AgreementRefusedError("This loan is signed for already.")
    agreement = Agreement(
        loan=loan,
        terms=terms if terms is not None and terms.pk else terms_in_force(at=at),
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
        after={"loan": loan.pk, "signed": signed, "terms": agreement.terms.version},
    )
    return agreement


def _keep_files(agreement: Agreement, student: bytes, guardian: bytes, scan: CleanScan | None) -> None:
    """Write the files before the row names them; a transaction undone leaves at most a nameless file."""
    stem = f"loan-{agreement.loan_id}"
    if student:
        agreement.student_signature.save(f"{stem}-student.png", ContentFile(student), save=False)
    if guardian:
        agreement.guardian_signature.save(f"{stem}-guardian.png", ContentFile(guardian), save=False)
    if scan:
        agreement.scan.save(f"{stem}{scan.extension}", ContentFile(scan.content), save=False)
        agreement.scan_sha256 = hashlib.sha256(scan.content).hexdigest()


@service
def file_agreement_pdf(*, agreement: Agreement, data: bytes, actor: User | None, at: datetime) -> Agreement:
    """Keep the rendered paper and its SHA-256; once kept, a second one changes nothing."""
    instrument = lock_instrument(agreement.loan.instrument_id)
    fresh = lock_row(agreement)
    if fresh.pdf or fresh.pdf_sha256:
        return fresh
    fresh.pdf_sha256 = hashlib.sha256(data).hexdigest()
    fresh.pdf.save(f"loan-{fresh.loan_id}.pdf", ContentFile(data), save=False)
    fresh.save(update_fields=["pdf", "pdf_sha256"])
    log_event(instrument=instrument, act="agreement_filed", subject=fresh, after={"sha256": fresh.pdf_sha256})
    return fresh
