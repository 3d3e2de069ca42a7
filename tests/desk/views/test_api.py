"""The API answers as its own description says, and opens no more than its token does.

What each answer may be is taken from the OpenAPI document by a property-based tester, which knows nothing of ours.
"""

from __future__ import annotations

import re

import pytest
import schemathesis
from django.core.cache import cache
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client
from hypothesis import given
from hypothesis import settings as property_settings

from config.wsgi import application
from desk.views.api import api
from inventory.models import Scope
from tests.factories import make_instrument
from tests.inventory.makers import make_token
from tests.loans.makers import make_returned_loan
from tests.repairs.makers import make_job

pytestmark = pytest.mark.page
READS = {
    "/api/schools": Scope.FLEET,
    "/api/instruments": Scope.FLEET,
    "/api/condition": Scope.CONDITION,
    "/api/jobs": Scope.WORK,
    "/api/loans": Scope.LOANS,
    "/api/value": Scope.VALUE,
}


def reader(token: str) -> Client:
    return Client(headers={"Authorization": f"Bearer {token}"})


@pytest.fixture(autouse=True)
def _nothing_counted():
    cache.clear()


@pytest.fixture
def filled(school):
    return make_returned_loan(school=school), make_job(school=school)


def test_every_address_is_described_and_tried_here():
    described = {path for path in api.get_openapi_schema()["paths"] if "{" not in path}
    assert described == set(READS)


@pytest.mark.parametrize(("path", "scope"), READS.items())
def test_each_needs_its_scope(path, scope, filled):
    assert Client().get(path).status_code == 401
    assert reader("no such token").get(path).status_code == 401
    others = [one for one in Scope if one != scope]
    assert reader(make_token(scopes=others)).get(path).status_code == 403
    answer = reader(make_token(scopes=[scope])).get(path)
    assert (answer.status_code, len(answer.json()) > 0) == (200, True)


def test_pages_are_read_to_their_end(filled):
    client, numbers, after = reader(make_token()), [], ""
    while after is not None:
        page = client.get("/api/instruments", {"limit": 1, "after": after}).json()
        numbers += [one["asset_number"] for one in page["items"]]
        after = page["next"]
    assert len(numbers) == len(set(numbers)) == 2


def test_a_number_with_a_space_or_an_accent_is_read_and_passed(school):
    for number in ("ÉCOLE 1", "HS 101", "HS 102"):
        make_instrument(school=school, asset_number=number)
    client = reader(make_token())
    assert client.get("/api/instruments/HS%20101").json()["asset_number"] == "HS 101"
    after = client.get("/api/instruments", {"limit": 1}).json()["next"]
    rest = client.get("/api/instruments", {"after": after}).json()["items"]
    assert len(rest) == 2
    assert client.get("/api/instruments", {"after": "ÉCOLE 1"}).status_code == 200


def test_one_instrument_or_404(filled):
    client = reader(make_token())
    number = filled[0].instrument.asset_number
    assert client.get(f"/api/instruments/{number}").json()["asset_number"] == number
    assert client.get("/api/instruments/NONE-1").status_code == 404


def test_another_schools_token_finds_nothing(filled, stranger):
    client = reader(make_token(school=stranger.staff_roles.get().school))
    assert [client.get(path).json().get("items") for path in READS if path != "/api/schools"] == [[]] * 5
    assert client.get(f"/api/instruments/{filled[0].instrument.asset_number}").status_code == 404


def test_no_answer_names_a_person(filled):
    loan = filled[0]
    text = "".join(reader(make_token()).get(path).text for path in READS)
    names = [loan.student.name, loan.student.number, *loan.student.guardians.values_list("name", flat=True)]
    assert loan.instrument.asset_number in text
    assert [name for name in names if name and re.search(rf"\b{re.escape(name)}\b", text)] == []


def test_a_token_reads_so_often_an_hour(monkeypatch, filled):
    (throttle,) = api.throttle if isinstance(api.throttle, list) else [api.throttle]
    monkeypatch.setattr(throttle, "num_requests", 2)
    client, other = reader(make_token(name="one")), reader(make_token(name="two"))
    assert [client.get("/api/schools").status_code for _ in range(3)] == [200, 200, 429]
    assert other.get("/api/schools").status_code == 200


def test_it_reads_and_nothing_else(filled):
    client = reader(make_token())
    for method in ("POST", "PUT", "PATCH", "DELETE"):
        assert client.generic(method, "/api/instruments").status_code == 405


@pytest.fixture
def _connection_stays_open():
    """Django's own test client does the same: a request through WSGI would close the test's connection."""
    both = (request_started, request_finished)
    for signal in both:
        signal.disconnect(close_old_connections)
    yield
    for signal in both:
        signal.connect(close_old_connections)


@pytest.mark.usefixtures("_connection_stays_open")
@pytest.mark.parametrize("path", [*READS, "/api/instruments/{asset_number}"])
def test_answers_are_as_described(path, filled):
    """Questions drawn from the description, valid and not: the status, the type and the form of each answer."""
    described = schemathesis.openapi.from_wsgi("/api/openapi.json", application)
    token = make_token()

    @given(case=described[path]["GET"].as_strategy())
    @property_settings(max_examples=12)
    def ask(case: schemathesis.Case) -> None:
        case.call_and_validate(headers={"Authorization": f"Bearer {token}", "Accept-Encoding": "identity"})

    ask()
