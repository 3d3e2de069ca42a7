"""Pages held in a hand, turned on their side, on a tablet, enlarged and with large text: what tests/sizes.py looks for, in both
languages.
"""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Purpose
from inventory.services.inspecting import answer_safety, start_inspection
from tests import sizes
from tests.browser.test_accessibility import PAGES, SHOWN
from tests.factories import NOW, make_instrument
from tests.plugins.browser import DESK
from tests.repairs.makers import make_job

LANGUAGES = ("en-US", "es-MX")


@pytest.mark.django_db(transaction=True)
def test_pages_fit_in_every_hand_in_both_languages(open_page, everybody, school):
    """Those read and answered while standing; Spanish needs more room than English."""
    job = make_job(school=school)
    other = make_instrument(school=school, kind_code="sax_alto")
    draft = start_inspection(instrument=other, purpose=Purpose.INTAKE, actor=everybody, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=everybody, at=NOW)
    addresses = [
        reverse("desk:today"),
        reverse("inventory:list"),
        reverse("desk:instrument", args=[job.instrument.asset_number]),
        reverse("inventory:walk", args=[draft.pk]),
        reverse("repairs:job", args=[job.pk]),
        reverse("desk:value"),
    ]
    page = open_page(user=everybody, locale="es-MX")
    flaws = []
    for address in addresses:
        page.goto(address)
        flaws += [f"{address}: {flaw}" for flaw in sizes.misfits(page, sizes.EVERY_DAY)]
    assert not flaws, "\n".join(flaws)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("locale", LANGUAGES)
@pytest.mark.parametrize("name", SHOWN)
def test_a_page_fits_at_every_size(name, locale, open_page, everybody, school):
    row = PAGES[name]
    address = reverse(name, args=row.make(school))
    user = everybody if row.permission else None
    if "text/html" not in open_page(user=user).request.get(address).headers.get("content-type", ""):
        return  # a photo, say
    flaws = []
    for page, at in (
        (open_page(user=user, locale=locale), sizes.TOUCHED),
        (open_page(user=user, locale=locale, viewport=DESK), sizes.BY_MOUSE),
    ):
        page.goto(address)
        flaws += sizes.misfits(page, at)
    assert not flaws, "\n".join(flaws)
