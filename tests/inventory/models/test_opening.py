from __future__ import annotations

import pytest
from django.db import IntegrityError

from inventory.models import OpeningLink
from tests.factories import NOW


@pytest.mark.django_db
def test_no_two_links_share_a_token():
    OpeningLink.objects.create(token_hash="a", made_at=NOW, expires_at=NOW)
    assert str(OpeningLink.objects.get()) == "made 2026-09-14 15:00"
    with pytest.raises(IntegrityError):
        OpeningLink.objects.create(token_hash="a", made_at=NOW, expires_at=NOW)
