"""Agreements to be signed by hand, one or a stack, as one PDF."""

from __future__ import annotations

from collections.abc import Sequence

from django.template.loader import render_to_string

from core.pdf import SCHEME, render_pdf
from core.qr import matrix, png_of
from loans.models import PaperToSign
from loans.pages.paper import agreement_page, signers_to_be
from loans.pdf.agreements import PICTURE_SIZES
from loans.selectors.to_sign import paper_to_sign_facts

MODULE_PX = 4


def papers_to_sign_pdf(papers: Sequence[PaperToSign], *, home: str) -> bytes:
    """Return the papers in the given order; each begins on a page of its own and has its code, in letters and as QR."""
    shown, assets = [], {}
    for paper in papers:
        facts = paper_to_sign_facts(paper)
        limits = tuple(paper.loan.limits) if paper.loan else ()
        reason = paper.loan.limits_reason if paper.loan else ""
        page = agreement_page(facts, paper.terms, limits=limits, limits_reason=reason)
        assets[f"{paper.code}.png"] = png_of(matrix(paper.address(home)), module_px=MODULE_PX)
        shown.append(
            {
                "page": page,
                "code": paper.shown_code,
                "says": page["words"]["paper_code"].format(code=paper.shown_code),
                "qr": f"{SCHEME}{paper.code}.png",
                "signers": signers_to_be(facts["names"], paper.terms.language),
            }
        )
    html = render_to_string("loans/agreement/to_sign.html", {"papers": shown, "size": PICTURE_SIZES[1]})
    return render_pdf(
        html=html, stylesheets=[render_to_string("loans/agreement/paper.css")], assets=assets, is_tagged=True
    )
