"""The nightly command that lets go of what lists kept of people."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import ImportBatch
from inventory.services.importing import KEPT_FOR
from tests.inventory.services.importing.makers import make_judged


@pytest.mark.django_db
def test_what_is_gone_is_counted(school):
    batch = make_judged(school=school)
    ImportBatch.objects.update(begun_at=batch.begun_at - 30 * KEPT_FOR)
    out = StringIO()
    call_command("forget_lists", stdout=out)
    assert out.getvalue() == "Lists discarded: 1. Problem rows deleted: 0.\n"
