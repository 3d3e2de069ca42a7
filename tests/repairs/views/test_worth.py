"""The page "Worth it?", deciding, approving."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.catalog.load import catalog
from inventory.models import Instrument, Role, StaffRole
from repairs.models import WorthDecision
from tests.catalogs import using, with_setting
from tests.factories import make_ready_instrument, make_school, make_user, new_nonce
from tests.repairs.money_makers import make_order, make_stuck_instrument


@pytest.fixture
def instrument(school):
    return make_stuck_instrument(school=school, year_made=2020)


def at(name, *args):
    return reverse(f"repairs:{name}", args=args)


def decide(client, instrument, **fields):
    given = {"answer": "repair_here", "because": "", "nonce": new_nonce()} | fields
    return client.post(at("decide-worth", instrument.asset_number), given)


def test_the_answer_stands_on_top_with_rules_arithmetic_and_settings_below(client, tech, instrument):
    client.force_login(tech)
    page = client.get(at("worth", instrument.asset_number)).text
    heads = ["Rules of thumb", "Settings used", "The math", "Replacing, a year", "Decide"]
    places = [page.index(head) for head in heads]
    assert places == sorted(places)
    assert "65% of replacement value" in page
    assert "Once, with a named approver" in page


def test_a_waiting_student_is_said_by_a_link(client, tech, instrument):
    client.force_login(tech)
    page = client.get(at("worth", instrument.asset_number) + "?waiting=1").text
    assert "A student is waiting, and no other is free." in page


def test_an_instrument_with_nothing_wrong_needs_no_repair(client, tech, school):
    client.force_login(tech)
    assert "Nothing to repair" in client.get(at("worth", make_ready_instrument(school=school).asset_number)).text


def test_a_decision_against_the_arithmetic_needs_a_reason_and_stays_typed(client, tech, instrument):
    client.force_login(tech)
    answer = decide(client, instrument, answer="retire")
    assert answer.status_code == 422
    assert "Say why you decide otherwise" in answer.text
    assert not WorthDecision.objects.exists()


def test_a_tech_decides_and_a_director_approves(client, tech, director, instrument):
    client.force_login(tech)
    decide(client, instrument, answer="keep_for_parts", because='Rotten <b>"through"</b>')
    decision = WorthDecision.objects.get()
    assert not Instrument.objects.get(pk=instrument.pk).is_parts_instrument
    page = client.get(at("worth", instrument.asset_number)).text
    assert "waiting for approval" in page
    assert at("settle-worth", decision.pk) not in page
    client.force_login(director)
    assert "Keep for parts" in client.get(at("approvals")).text
    client.post(at("settle-worth", decision.pk), {"answer": "yes"})
    assert Instrument.objects.get(pk=instrument.pk).is_parts_instrument
    assert "approved by Dana Director" in client.get(at("worth", instrument.asset_number)).text


def test_no_needs_a_reason_and_nonsense_settles_nothing(client, tech, director, instrument):
    client.force_login(tech)
    decide(client, instrument, answer="retire", because="Old")
    decision = WorthDecision.objects.get()
    client.force_login(director)
    for form in ({"answer": "no"}, {"answer": "perhaps"}, {}):
        client.post(at("settle-worth", decision.pk), form)
    assert WorthDecision.objects.get().settled_at is None
    client.post(at("settle-worth", decision.pk), {"answer": "no", "note": "Buy pads"})
    assert WorthDecision.objects.get().is_approved is False


def test_sending_out_goes_on_to_the_order_and_parts_to_the_parts_instrument(client, director, instrument):
    client.force_login(director)
    answer = decide(client, instrument, answer="send_out", because="No bench time")
    assert answer.headers["Location"] == at("ask-shop", instrument.asset_number)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        answer = decide(client, instrument, answer="keep_for_parts", because="Rotten")
    assert answer.headers["Location"] == at("parts-horn", instrument.asset_number)


def test_the_page_costs_few_queries(client, tech, instrument, django_assert_max_num_queries):
    client.force_login(tech)
    client.get(at("worth", instrument.asset_number))
    with django_assert_max_num_queries(30):
        client.get(at("worth", instrument.asset_number))


def test_who_approves_elsewhere_and_works_here_is_not_asked_here(client, instrument):
    """A director of another school who is tech at this one sees the instrument, and decides nothing about its money."""
    both = make_user(Role.DIRECTOR, school=make_school())
    StaffRole.objects.create(user=both, role=Role.TECH, school=instrument.school)
    client.force_login(both)
    decide(client, instrument, answer="retire", because="Old")
    decision = WorthDecision.objects.get()
    assert decision.settled_at is None
    assert at("settle-worth", decision.pk) not in client.get(at("worth", instrument.asset_number)).text
    assert instrument.asset_number not in client.get(at("approvals")).text
    assert client.post(at("settle-worth", decision.pk), {"answer": "yes"}).status_code == 404


def test_what_waits_comes_a_page_at_a_time(client, director, tech, school, monkeypatch):
    monkeypatch.setattr("repairs.views.worth.WAITING", 1)
    instruments = [make_stuck_instrument(school=school, year_made=2020) for _ in range(2)]
    client.force_login(tech)
    for instrument in instruments:
        decide(client, instrument, answer="retire", because="Old")
    client.force_login(director)
    pages = [client.get(at("approvals"), {"page": page}).text for page in (1, 2)]
    assert [[instrument.asset_number in page for instrument in instruments] for page in pages] == [
        [True, False],
        [False, True],
    ]


def test_orders_come_before_decisions_over_the_pages(client, director, tech, school, monkeypatch):
    monkeypatch.setattr("repairs.views.worth.WAITING", 2)
    instruments = [make_stuck_instrument(school=school, year_made=2020) for _ in range(4)]
    client.force_login(tech)
    decide(client, instruments[3], answer="retire", because="Old")
    for instrument in instruments[:3]:
        make_order(instrument=instrument, expected_high_amount=Decimal(200))
    client.force_login(director)
    pages = [client.get(at("approvals"), {"page": page}).text for page in (1, 2)]
    shown = [
        [number for number, instrument in enumerate(instruments) if instrument.asset_number in page] for page in pages
    ]
    assert shown == [[0, 1], [2, 3]]
