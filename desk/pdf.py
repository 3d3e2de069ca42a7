"""What a page that joins the apps prints: the day plan, wear or damage for a family, and the file for a claim."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from PIL import Image

from core.pdf import SCHEME, LaidOut, render_pdf
from core.pdf_pages import joined
from desk.pages.damage_paper import damage_page
from desk.pages.gifts import GiftLetter
from desk.rules.guide import PICTURE
from desk.selectors.charging import Charge, Returned
from inventory.models import Photo
from loans.models import Agreement, PaperToSign
from loans.pdf import content_of
from loans.pdf.to_sign import papers_to_sign_pdf

SIZES = (9.5, 8.5, 7.5)  # type sizes in points, largest first
HOPELESS = 2  # pages: what takes more in a large type takes more than one in the smallest
LONG_SIZE = 8.5  # if no size fits on one page
MOST_PAGES = 12  # a week of short steps
MOST_PAGES_OF_SAMPLE = 120


def bench_day_pdf(day: dict[str, Any]) -> bytes:
    """Return the day plan on US Letter: one page in the largest type that fits, otherwise as many as it takes."""
    html = render_to_string("desk/papers/bench_day.html", {"day": day})
    laid_out = cache(partial(_laid_out, html))  # each size once
    for size in SIZES:
        if laid_out(size).pages == 1:
            return laid_out(size).pdf()
        if laid_out(size).pages > HOPELESS:
            break
    return laid_out(LONG_SIZE).pdf(most_pages=MOST_PAGES)


def season_plan_pdf(page: dict[str, Any]) -> bytes:
    """Return the season plan on US Letter, as many pages as it takes."""
    html = render_to_string("desk/papers/season_plan.html", {"page": page})
    return _rendered(html, size=LONG_SIZE, most_pages=MOST_PAGES)


def sample_pdf(page: dict[str, Any]) -> bytes:
    """Return the working paper of a sample (``desk.pages.samples.paper_of``) on US Letter."""
    html = render_to_string("desk/papers/sample.html", {"page": page})
    return _rendered(html, size=LONG_SIZE, most_pages=MOST_PAGES_OF_SAMPLE)


def purchase_request_pdf(page: dict[str, Any]) -> bytes:
    """Return a filed request (``desk.pages.purchases.request_page``) to sign, on US Letter."""
    html = render_to_string("desk/papers/purchase_request.html", page)
    return _rendered(html, size=10, most_pages=MOST_PAGES)


def condition_pdf(page: dict[str, Any], *, at: datetime) -> bytes:
    """Return the condition of the fleet (``desk.pages.condition.page_of``) on US Letter, with its charts."""
    html = render_to_string("desk/papers/condition.html", {"page": page, "at": at})
    return _rendered(html, size=LONG_SIZE, most_pages=MOST_PAGES)


def count_pdf(page: dict[str, Any]) -> bytes:
    """Return the sheet of a count with every row, its differences and both signatures, on US Letter."""
    return render_pdf(
        html=render_to_string("desk/papers/count.html", page),
        stylesheets=[render_to_string("desk/papers/count.css")],
        is_tagged=True,
    )


def guide_pdf(pages: Sequence[dict[str, Any]]) -> bytes:
    """Return the guide (``desk.pages.guide.whole_guide``) on US Letter."""
    html = render_to_string("desk/papers/guide.html", {"pages": pages})
    pictures = [block["picture"] for page in pages for block in page["blocks"] if block["sort"] == PICTURE]
    return render_pdf(
        html=html,
        stylesheets=[render_to_string("desk/papers/guide.css")],
        assets={picture: _as_jpeg(settings.BASE_DIR / "static" / picture) for picture in pictures},
        is_tagged=True,
    )


def _as_jpeg(path: Path) -> bytes:
    """Return the picture as papers hold it in few bytes: any other form would be stored dot by dot."""
    out = io.BytesIO()
    with Image.open(path) as picture:
        picture.convert("RGB").save(out, "JPEG", quality=70)
    return out.getvalue()


def _rendered(html: str, *, size: float, most_pages: int) -> bytes:
    return _laid_out(html, size).pdf(most_pages=most_pages)


def _laid_out(html: str, size: float) -> LaidOut:
    sheet = render_to_string("desk/papers/bench_day.css", {"size": f"{size:.1f}"})
    return LaidOut(html=html, stylesheets=[sheet], is_tagged=True)


def damage_pdf(
    returned: Returned,
    charge: Charge | None,
    *,
    language: str,
    photos: tuple[Mapping[str, Photo], Mapping[str, Photo]],
    sender: str,
    at: datetime,
) -> bytes:
    """Return hand-out and return side by side with the arithmetic, on US Letter, with the photos of what changed."""
    parts = {one.row.part for one in returned.changes}
    shown = {photo.pk: photo for side in photos for part, photo in side.items() if part in parts}
    page = damage_page(
        returned,
        charge,
        language=language,
        photos=photos,
        addresses={pk: f"{SCHEME}{pk}.jpg" for pk in shown},
        sender=sender,
    )
    return render_pdf(
        html=render_to_string("desk/papers/damage.html", {"page": page, "at": at}),
        stylesheets=[render_to_string("loans/papers/ledger.css")],
        assets={f"{pk}.jpg": content_of(photo.image) for pk, photo in shown.items()},
        is_tagged=True,
    )


def claim_pdf(page: dict[str, Any]) -> bytes:
    """Return what is known of a lost instrument (``desk.pages.losses.claim_page``), with its photos."""
    assets, pictures = {}, []
    for number, (photo, day) in enumerate(zip(page["photos"], page["days"], strict=True)):
        name = f"photo-{number}.jpg"
        assets[name] = content_of(photo.small)
        pictures.append({"url": f"{SCHEME}{name}", "day": day})
    return render_pdf(
        html=render_to_string("desk/papers/claim.html", {"page": page, "pictures": pictures}),
        stylesheets=[render_to_string("desk/papers/claim.css")],
        assets=assets,
        is_tagged=True,
    )


def gift_pdf(letter: GiftLetter) -> bytes:
    """Return a letter to a donor, on US Letter."""
    return render_pdf(
        html=render_to_string("desk/papers/gift.html", {"letter": letter}),
        stylesheets=[render_to_string("desk/papers/gift.css")],
        is_tagged=True,
    )


def agreements_pdf(papers: Sequence[PaperToSign], filed: Sequence[Agreement], *, home: str) -> bytes:
    """Return a stack: the papers to be signed, then the signed agreements page by page as they were filed."""
    to_sign = [papers_to_sign_pdf(papers, home=home)] if papers else []
    stack = [*to_sign, *(content_of(agreement.pdf) for agreement in filed)]
    return stack[0] if len(stack) == 1 else joined(stack)
