"""The nightly command that lets go of the keys of posted forms."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from core.acts import KEPT_FOR
from core.models import PostedForm


@pytest.mark.django_db
def test_what_is_gone_is_counted():
    PostedForm.objects.create(key="old", service="add", posted_at=timezone.now() - 2 * KEPT_FOR)
    out = StringIO()
    call_command("forget_forms", stdout=out)
    assert out.getvalue() == "Keys of posted forms deleted: 1.\n"
