from __future__ import annotations

import io
import os
from datetime import UTC, datetime

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command

from loans.services.roster_files import forget_file, is_kept, keep_file

pytestmark = pytest.mark.django_db


def test_what_was_sent_long_ago_goes_and_the_rest_stays():
    from django.core.files.storage import default_storage

    old, new = (keep_file(ContentFile(b"x")) for _ in range(2))
    long_ago = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    os.utime(default_storage.path(old), (long_ago, long_ago))
    out = io.StringIO()
    call_command("forget_rosters", stdout=out)
    assert out.getvalue() == "Rosters deleted: 1.\n"
    assert (is_kept(old), is_kept(new)) == (False, True)
    forget_file(new)
