"""The loan agreement as PDF."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models.fields.files import FieldFile
from django.template.loader import render_to_string

from core.pdf import SCHEME, LaidOut, render_pdf
from loans.models import Addendum, Agreement
from loans.pages.paper import addendum_page, agreement_page, signed_words, signers

PICTURE_SIZES = ((70, 52), (60, 40))  # millimeters, the larger if the paper stays on one page
MOST = 2  # pages that a smaller picture may bring onto one
SIGNATURES = ("student_signature", "guardian_signature")


def agreement_pdf(agreement: Agreement, facts: Mapping[str, Any]) -> bytes:
    """Return the paper on US Letter, tagged for screen readers. ``facts`` are those of ``loans.selectors.agreements.paper_facts``.

    The same agreement gives the same bytes. Names and terms are text, never markup; the only pictures are the two
    signatures of one signed on screen, and the instrument where it has findings.
    """
    signed = {name: field for name in SIGNATURES if (field := getattr(agreement, name))}
    paper = agreement_page(
        facts,
        agreement.terms,
        limits=tuple(agreement.loan.limits),
        limits_reason=agreement.loan.limits_reason,
        signer=agreement.guardian_signer,
    )
    context = {
        "agreement": agreement,
        "paper": paper,
        "names": signers(agreement, facts["names"]),
        "signed": signed_words(agreement),
        "signatures": {name: f"{SCHEME}{name}.png" for name in signed},
    }
    assets = {f"{name}.png": content_of(field) for name, field in signed.items()}
    large, *smaller = PICTURE_SIZES
    largest = _laid_out(context | {"size": large}, assets)
    for size in smaller if paper["picture"] and 1 < largest.pages <= MOST else ():
        laid_out = _laid_out(context | {"size": size}, assets)
        if laid_out.pages == 1:
            return laid_out.pdf()
    return largest.pdf()


def _laid_out(context: dict[str, Any], assets: dict[str, bytes]) -> LaidOut:
    return LaidOut(
        html=render_to_string("loans/agreement/paper.html", context),
        stylesheets=[render_to_string("loans/agreement/paper.css")],
        assets=assets,
        is_tagged=True,
    )


def addendum_pdf(addendum: Addendum, facts: Mapping[str, Any]) -> bytes:
    """Return the addendum on US Letter, in the language of the agreement. ``facts`` are the agreement's."""
    html = render_to_string("loans/agreement/addendum.html", {"paper": addendum_page(addendum, facts)})
    return render_pdf(html=html, stylesheets=[render_to_string("loans/agreement/paper.css")], is_tagged=True)


def content_of(field: FieldFile) -> bytes:
    """Return a stored file: a signature, or a paper of at most 25 MB."""
    with field.open("rb") as stored:
        content: bytes = stored.read()
    return content
