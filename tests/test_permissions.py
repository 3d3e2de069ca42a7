"""Three nets against the forgotten check; this is the third: no URL without a row, and every row tried."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from core.access import TABLE
from inventory.models import Role, School
from tests.factories import make_school, make_user
from tests.permission_matrix import all_rows, holders_of
from tests.plugins.ground import on_postgresql

ROWS = all_rows()
STAFF = {name: row for name, row in ROWS.items() if row.permission}
GUARDED = {name: row for name, row in STAFF.items() if row.permission != "any"}
WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
SESSIONS = "django_session"  # a notice for the next page is kept there
METHODS = ("GET", "HEAD", "OPTIONS", "PUT", "PATCH", "DELETE", "POST")
OWNED = {name: row for name, row in GUARDED.items() if row.own}


def url_names(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[str]:
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from url_names(entry, f"{prefix}{entry.namespace}:" if entry.namespace else prefix)
        elif isinstance(entry, URLPattern):
            yield f"{prefix}{entry.name}"


def somebody(permission: str, school: School, *, holds: bool):
    """A member of the school with a role that holds the permission, or with one that does not; None if all hold it."""
    holders = holders_of(permission)
    roles = [role for role in Role.values if (role in holders) is holds]
    return make_user(roles[0], school=school) if roles else None


def test_every_url_has_a_row_and_every_row_a_url():
    assert sorted(url_names()) == sorted(ROWS)


def test_every_row_names_a_known_permission():
    assert {row.permission for row in GUARDED.values()} <= set(TABLE)


def writes_of(asked: CaptureQueriesContext, *, is_file: bool) -> list[str]:
    """What was written, but for the session; a list taken along as a file may have one entry in the log that says so."""
    written = [one["sql"] for one in asked if one["sql"].startswith(WRITES) and SESSIONS not in one["sql"]]
    entries = [sql for sql in written if sql.startswith('INSERT INTO "core_event"')]
    return [sql for sql in written if '"core_event' not in sql] if is_file and len(entries) == 1 else written


@pytest.mark.every_case
@pytest.mark.parametrize("name", sorted(ROWS))
def test_a_page_opens_to_whom_it_is_for_alone_and_looking_writes_nothing(
    name, client, school, subtests, django_capture_on_commit_callbacks
):
    """Asked by somebody logged out, by the wrong role, from another school, and last by the right one."""
    row = ROWS[name]
    address = reverse(name, args=row.make(school))

    def answer():
        return getattr(client, row.method)(address)

    # Who is refused is no matter of the database; on PostgreSQL, each page is only opened.
    if name in STAFF and not on_postgresql():
        with subtests.test("somebody logged out is sent to log in"):
            sent = answer()
            assert sent.status_code == 302
            assert sent.headers["Location"].startswith(reverse("core:log-in"))
    if name in GUARDED and not on_postgresql():
        with subtests.test("the wrong role is refused"):
            # Where every role may, somebody with no role at all must not.
            client.force_login(somebody(row.permission, school, holds=False) or make_user(school=school))
            assert answer().status_code == 403
    if name in OWNED:  # on both: rows of another school are left out by a query
        with subtests.test("a member of another school finds nothing"):
            client.force_login(somebody(row.permission, make_school(), holds=True))
            assert answer().status_code == 404
    if name in STAFF:
        client.force_login(somebody(row.permission, school, holds=True))
    with CaptureQueriesContext(connection) as asked, django_capture_on_commit_callbacks() as afterwards:
        shown = answer()
    with subtests.test("the right role gets an answer, and a public page asks nobody to log in"):
        if name in GUARDED:
            assert shown.status_code in {200, 302, 422}
        elif name not in STAFF:
            leads_on = shown.status_code == 302 and not shown.headers["Location"].startswith(reverse("core:log-in"))
            assert shown.status_code in {200, 401, 405} or leads_on
    if row.method == "get":
        with subtests.test("looking writes nothing"):
            is_file = "filename" in shown.headers.get("Content-Disposition", "")
            assert (writes_of(asked, is_file=is_file), afterwards) == ([], [])


@pytest.mark.drill
@pytest.mark.parametrize("name", sorted(ROWS))
def test_no_method_opens_a_page_to_whom_it_is_not_for(name, client, school):
    """Every address, asked by nobody and by each role, with every method; those who may come last, as their acts count."""
    row = ROWS[name]
    address = reverse(name, args=row.make(school))
    holders = holders_of(row.permission) if name in GUARDED else Role.values
    client.raise_request_exception = False
    for role in [None, *sorted(Role.values, key=lambda one: one in holders)]:
        if role:
            client.force_login(make_user(role, school=school))
        may = role in holders or (role is None and name not in STAFF)
        for method in METHODS:
            with CaptureQueriesContext(connection) as asked:
                answer = client.generic(method, address)
            told = f"{method} by {role}: {answer.status_code}"
            assert answer.status_code < 500, told
            if not may:
                is_sent_away = answer.headers.get("Location", "").startswith(reverse("core:log-in"))
                assert answer.status_code in {403, 404, 405} or (role is None and is_sent_away), told
            if not may or method in {"PUT", "PATCH", "DELETE", "OPTIONS"}:
                assert writes_of(asked, is_file=False) == [], told
