"""Three nets against the forgotten check; this is the third: no URL without a row, and every row tried."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from core.access import known_permissions
from inventory.models import Role, School
from tests.factories import make_school, make_user
from tests.permission_matrix import Row, all_rows, holders_of

ROWS = all_rows()
STAFF = {name: row for name, row in ROWS.items() if row.permission}
GUARDED = {name: row for name, row in STAFF.items() if row.permission != "any"}
WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
SESSIONS = "django_session"  # a notice for the next page is kept there
OWNED = {name: row for name, row in GUARDED.items() if row.own}


def url_names(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[str]:
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from url_names(entry, f"{prefix}{entry.namespace}:" if entry.namespace else prefix)
        elif isinstance(entry, URLPattern):
            yield f"{prefix}{entry.name}"


def open_page(client: Client, name: str, row: Row, school: School):
    address = reverse(name, args=row.make(school))
    return getattr(client, row.method)(address)


def somebody(permission: str, school: School, *, holds: bool):
    """A member of the school with a role that holds the permission, or with one that does not; None if all hold it."""
    holders = holders_of(permission)
    roles = [role for role in Role.values if (role in holders) is holds]
    return make_user(roles[0], school=school) if roles else None


def test_every_url_has_a_row_and_every_row_a_url():
    assert sorted(url_names()) == sorted(ROWS)


def test_every_row_names_a_known_permission():
    assert {row.permission for row in GUARDED.values()} <= known_permissions()


@pytest.mark.parametrize("name", sorted(STAFF))
def test_somebody_logged_out_is_sent_to_log_in(name, client, school):
    answer = open_page(client, name, STAFF[name], school)
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("core:log-in"))


@pytest.mark.parametrize("name", sorted(GUARDED))
def test_the_wrong_role_is_refused(name, client, school):
    user = somebody(GUARDED[name].permission, school, holds=False)
    if user is None:
        user = make_user(school=school)  # every role may: then somebody with no role at all must not
    client.force_login(user)
    assert open_page(client, name, GUARDED[name], school).status_code == 403


@pytest.mark.parametrize("name", sorted(OWNED))
def test_a_member_of_another_school_finds_nothing(name, client, school):
    user = somebody(OWNED[name].permission, make_school(), holds=True)
    client.force_login(user)
    assert open_page(client, name, OWNED[name], school).status_code == 404


@pytest.mark.parametrize("name", sorted(GUARDED))
def test_the_right_role_gets_an_answer(name, client, school):
    client.force_login(somebody(GUARDED[name].permission, school, holds=True))
    assert open_page(client, name, GUARDED[name], school).status_code in {200, 302, 422}


@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.method == "get"))
def test_looking_at_a_page_writes_nothing(name, client, school, django_capture_on_commit_callbacks):
    row = ROWS[name]
    address = reverse(name, args=row.make(school))
    if row.permission:
        client.force_login(somebody(row.permission, school, holds=True))
    with CaptureQueriesContext(connection) as asked, django_capture_on_commit_callbacks() as afterwards:
        client.get(address)
    written = [query["sql"] for query in asked if query["sql"].startswith(WRITES) and SESSIONS not in query["sql"]]
    assert (written, afterwards) == ([], [])


@pytest.mark.parametrize("name", sorted(set(ROWS) - set(STAFF)))
def test_a_public_page_asks_nobody_to_log_in(name, client, school):
    assert open_page(client, name, ROWS[name], school).status_code in {200, 405}
