from __future__ import annotations

import io
import re

import pytest
from django.core.management import call_command
from django.urls import resolve

from inventory.models import OpeningLink, Role
from inventory.selectors.opening import link_of
from tests.factories import make_user

pytestmark = pytest.mark.django_db


def printed(**options):
    out = io.StringIO()
    call_command("opening_link", stdout=out, **options)
    return out.getvalue()


def test_it_prints_a_link_to_the_first_page():
    said = printed(address="http://127.0.0.1:8000/")
    found = re.search(r"http://127\.0\.0\.1:8000(/begin/\S+/)\n", said)
    assert link_of(resolve(found[1]).kwargs["token"]) == OpeningLink.objects.get()


def test_each_start_prints_a_new_one_and_only_that_opens():
    assert printed() != printed()
    assert OpeningLink.objects.count() == 1


def test_phones_get_the_public_address(settings):
    settings.PUBLIC_ADDRESS = "https://horns.example"
    assert "https://horns.example/begin/" in printed(address="http://127.0.0.1:8000")


def test_where_somebody_administers_it_prints_nothing():
    make_user(Role.ADMINISTRATOR)
    assert printed() == ""
    assert OpeningLink.objects.count() == 0
