"""Addresses that nobody types and somebody sends: an answer in the 400s at most, on every page and both databases."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from tests.permission_matrix import all_rows
from tests.plugins.ground import on_postgresql
from tests.test_permissions import GUARDED, somebody
from tests.test_tables import APPS, ROOT

PAGES = sorted(name for name, row in all_rows().items() if row.method == "get")
POSTED = sorted(GUARDED)
# By what each did once: NUL to PostgreSQL, -1 and a huge number to paging, ids beyond any column, text far too long,
# half a surrogate, digits of another script, an exponent, a list, one nested without end, a placeholder, a day that is none.
ODD = {
    "nul": "%00",
    "below zero": "-1",
    "thirty digits": "9" * 30,
    "too many digits": "9" * 5_000,
    "long": "x" * 5_000,
    "half a surrogate": "%ED%A0%80",
    "arabic digit": "%D9%A3",
    "exponent": "1e9",
    "list": "[]",
    "lists in lists": "[" * 5_000,
    "placeholder": "%25s",
    "no day": "2026-13-45",
}
FEW = {"thirty digits"} if on_postgresql() else {}  # the rest in the drill


def asked_for() -> list[str]:
    """The names that some page looks up in its address, and those of all filters' fields."""
    names = {"page", "per_page", "sort", "next"}
    for app in APPS:
        for path in (ROOT / app).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            names |= set(re.findall(r"""GET(?:\.get|\.getlist)?[(\[]"(\w+)\"""", text))
            if "forms" in {*path.parts, path.stem}:
                names |= set(re.findall(r"^    (\w+) = forms\.\w+Field\(", text, flags=re.MULTILINE))
    return sorted(names)


NAMES = asked_for()


def test_names_are_found():
    assert {"text", "student", "school", "kind", "page"} <= set(NAMES)


VALUES = [pytest.param(value, id=name, marks=() if name in FEW else pytest.mark.drill) for name, value in ODD.items()]


@pytest.mark.parametrize("value", VALUES)
def test_no_page_fails_at_an_odd_address(value, client, school, subtests):
    for name in PAGES:
        row = all_rows()[name]
        if row.permission:
            client.force_login(somebody(row.permission, school, holds=True))
        address = reverse(name, args=row.make(school))
        client.raise_request_exception = False
        with subtests.test(name):
            answer = client.get(f"{address}?{'&'.join(f'{asked}={value}' for asked in NAMES)}")
            assert answer.status_code < 500


@pytest.mark.drill
@pytest.mark.parametrize("value", ODD.values(), ids=ODD)
def test_no_form_fails_at_odd_fields(value, client, school, subtests):
    for name in POSTED:
        row = all_rows()[name]
        client.force_login(somebody(row.permission, school, holds=True))
        address = reverse(name, args=row.make(school))
        client.raise_request_exception = False
        with subtests.test(name):
            body = "&".join(f"{asked}={value}" for asked in NAMES)
            answer = client.post(address, body, content_type="application/x-www-form-urlencoded")
            assert answer.status_code < 500


@pytest.mark.parametrize("address", ["/instruments/%00/", "/T/%00", "/?q=%00", "/bench/%00/"])
def test_a_nul_is_a_bad_request(client, director, address):
    client.force_login(director)
    assert client.get(address).status_code in {400, 404}
