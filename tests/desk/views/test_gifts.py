"""Letters to a giver as papers."""

from __future__ import annotations

import pypdfium2
import pytest
from django.urls import reverse

from core.models import Event
from inventory.services.registering import record_donation
from tests.factories import NOW, TODAY, make_ready_instrument

pytestmark = [pytest.mark.django_db, pytest.mark.page]


def test_thanks_and_acceptance_are_papers_for_who_may_see_the_giver(client, school, director, tech):
    horn = make_ready_instrument(school=school, acquired_by="gift")
    client.force_login(director)
    url = reverse("desk:gift-letter", args=[horn.asset_number, "thanks"])
    assert client.get(url).status_code == 404
    record_donation(instrument=horn, donor_name="Gale", received_on=TODAY, actor=director, at=NOW)
    assert url in client.get(reverse("inventory:donation", args=[horn.asset_number])).text
    text = pypdfium2.PdfDocument(client.get(url).content)[0].get_textpage().get_text_range()
    assert "Gale" in text
    assert "Thank you" in text
    assert Event.objects.get(act="exported").after == {"what": "gift letter", "form": "pdf", "rows": 1}
    assert client.get(reverse("desk:gift-letter", args=[horn.asset_number, "receipt"])).status_code == 404
    client.force_login(tech)
    assert client.get(url).status_code == 403
