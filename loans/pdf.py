"""The loan agreement as PDF."""

from __future__ import annotations

from django.template.loader import render_to_string

from core.money import dollars
from core.pdf import SCHEME, render_pdf
from loans.models import Agreement
from loans.pages import AgreementPaper

STUDENT, GUARDIAN = "student-signature.png", "guardian-signature.png"


def agreement_pdf(paper: AgreementPaper) -> bytes:
    """Return the paper on US Letter, tagged for screen readers; the same paper gives the same bytes.

    Names and terms are text, never markup; the only pictures are the two signatures passed in.
    """
    assets = {
        name: content
        for name, content in ((STUDENT, paper.student_signature), (GUARDIAN, paper.guardian_signature))
        if content
    }
    html = render_to_string(
        "loans/agreement/paper.html",
        {
            "paper": paper,
            "value": dollars(paper.replacement_amount),
            "paragraphs": [part.strip() for part in paper.terms.split("\n\n") if part.strip()],
            "student_signature": f"{SCHEME}{STUDENT}" if STUDENT in assets else "",
            "guardian_signature": f"{SCHEME}{GUARDIAN}" if GUARDIAN in assets else "",
            "is_on_screen": paper.signed == Agreement.Signed.SCREEN,
        },
    )
    return render_pdf(
        html=html,
        stylesheets=[render_to_string("loans/agreement/paper.css")],
        assets=assets,
        is_tagged=True,
    )
