"""``manage.py keep_months``."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import FleetMonth
from tests.factories import make_instrument


@pytest.mark.django_db
def test_each_month_is_kept_once(school):
    make_instrument(school=school)  # on August 15, 2026
    said = []
    for _again in range(2):
        out = StringIO()
        call_command("keep_months", "--today", "2026-10-02", stdout=out)
        said.append(out.getvalue().strip())
    assert said == ["2 kept.", "0 kept."]
    assert [f"{one}" for one in FleetMonth.objects.order_by("ends_on")] == ["2026-08", "2026-09"]
