"""The agreement as a link shows it, and the paper with the code that leads there."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from django.template.loader import render_to_string

from core.pdf import SCHEME, render_pdf
from core.qr import matrix, png_of
from loans.models import SigningLink
from loans.pages.paper import agreement_page
from loans.pages.signing_links import placeholders_of, signing_page
from loans.selectors.agreements import agreed_names, facts_to_sign, read_facts
from loans.selectors.signing_links import address_of

MODULE_PX = 4
PICTURE_SIZE = (74, 60)  # millimeters, at most; as wide as a phone its numbers are 11 px high and more


def agreement_text(link: SigningLink, *, token: str) -> bytes:
    """Return the agreement as the page shows it and as it is kept once signed.

    Letters outside ASCII are written as references, so that the bytes read the same wherever they are opened. They
    hold a digest of the token: nobody who knows the hash of what was signed can try names against it.
    """
    loan = link.loan
    facts = read_facts(facts_to_sign(loan), names=agreed_names(loan, link.guardian))
    page = agreement_page(facts, link.terms, limits=tuple(loan.limits), limits_reason=loan.limits_reason)
    salt = hashlib.sha256(f"text {token.upper()}".encode()).hexdigest()[:32]
    text = render_to_string("loans/agreement/text.html", {"paper": page, "salt": salt, "size": PICTURE_SIZE})
    return text.encode("ascii", "xmlcharrefreplace")


def links_pdf(codes: Sequence[tuple[SigningLink, str]], *, home: str) -> bytes:
    """Return the papers that lead guardians to the page, one on each: of each link and the token in it."""
    papers, assets = [], {}
    for number, (link, token) in enumerate(codes):
        page, address, name = signing_page(link), address_of(token, home=home), f"link-{number}.png"
        assets[name] = png_of(matrix(address, error="M"), module_px=MODULE_PX)
        papers.append(
            {
                "page": page,
                "student_line": page["words"]["link_paper_for"].format(student=link.loan.student.name),
                "text": page["words"]["link_paper"].format(**placeholders_of(link)),
                "address": address,
                "qr": f"{SCHEME}{name}",
            }
        )
    return render_pdf(
        html=render_to_string("loans/papers/signing_link.html", {"papers": papers}),
        stylesheets=[render_to_string("loans/papers/signing_link.css")],
        assets=assets,
        is_tagged=True,
    )
