"""The page "Worth it?", deciding, approving."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from inventory.catalog.load import catalog
from inventory.models import Instrument, Role, StaffRole
from repairs.models import Job, WorthDecision
from tests.catalogs import using, with_setting
from tests.factories import make_bench, make_ready_instrument, make_school, make_user, new_nonce
from tests.repairs.money_makers import make_job, make_order, make_refusal, make_stuck_instrument


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
    page = client.get(at("worth", instrument.asset_number)).text.partition("<main")[2]
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


def test_a_repair_opens_its_job_and_leads_there_where_there_is_one_bench(client, tech, instrument):
    make_bench(school=instrument.school)
    client.force_login(tech)
    answer = decide(client, instrument, because="A dent more")
    job = Job.objects.get()
    assert answer.headers["Location"] == at("job", job.pk)
    assert job.decision == WorthDecision.objects.get()
    assert decide(client, instrument, because="Go on").headers["Location"] == at("job", job.pk)


def test_of_several_benches_one_is_chosen(client, tech, instrument):
    benches = [make_bench(school=instrument.school) for _ in range(2)]
    client.force_login(tech)
    assert "Choose later" in client.get(at("worth", instrument.asset_number)).text
    decide(client, instrument, because="So be it", bench=benches[1].code)
    assert Job.objects.get().bench == benches[1]


def test_a_repair_without_a_bench_leads_to_the_choice_of_one(client, tech, instrument):
    client.force_login(tech)
    answer = decide(client, instrument, because="So be it")
    assert answer.headers["Location"] == at("open-job", instrument.asset_number)
    assert "Start the job" in client.get(at("worth", instrument.asset_number)).text


def test_a_refusal_stands_on_top_of_every_page_that_goes_on_from_it(client, tech, school):
    job = make_job(instrument=make_stuck_instrument(school=school))
    order = make_order(instrument=make_stuck_instrument(school=school))
    plain = make_stuck_instrument(school=school)
    for one in (job.instrument, order.instrument, plain):
        make_refusal(instrument=one, actor=tech, because="The <b>only</b> one")
    client.force_login(tech)
    pages = [
        at("job", job.pk), at("order", order.pk), at("open-job", plain.asset_number), at("worth", plain.asset_number),
        reverse("desk:instrument", args=[plain.asset_number]), reverse("desk:today"),
    ]  # fmt: skip
    for page in pages:
        text = client.get(page).text
        assert "Not approved: repair here for up to $180" in text, page
        assert "Buy one." in text, page
        assert "The &lt;b&gt;only&lt;/b&gt; one" in text, page
    assert at("order-send", order.pk) not in client.get(at("order", order.pk)).text
    assert "Start the job" not in client.get(at("open-job", plain.asset_number)).text


def test_what_was_read_leaves_the_first_page(client, tech, director, instrument):
    refused = make_refusal(instrument=instrument, actor=tech)
    client.force_login(director)
    client.post(at("read-answer", refused.pk))
    assert WorthDecision.objects.get().answer_read_at is None
    client.force_login(tech)
    answer = client.post(at("read-answer", refused.pk), {"then": "today"})
    assert answer.headers["Location"] == reverse("desk:today")
    assert "Not approved" not in client.get(reverse("desk:today")).text
    assert "Not approved" in client.get(at("worth", instrument.asset_number)).text


def test_the_approval_box_holds_the_reason_the_math_and_the_rules_it_breaks(client, tech, director, school):
    instrument = make_stuck_instrument(school=school, year_made=1950, replacement_amount=Decimal(20))
    client.force_login(tech)
    decide(client, instrument, because='For the <i>"solo"</i>')
    decision = WorthDecision.objects.get()
    assert decision.rules_broken
    client.force_login(director)
    for page in (at("approvals"), at("worth", instrument.asset_number)):
        text = client.get(page).text
        assert "For the &lt;i&gt;&quot;solo&quot;&lt;/i&gt;" in text
        assert f"Asked by {tech}" in text
        assert "The math of that day" in text
        assert "Keeping, a year" in text
        assert all(words[1:] in text for words in map(escape, decision.rules_broken))


def test_who_asked_is_told_that_another_person_approves(client, director, instrument):
    client.force_login(director)
    decide(client, instrument, answer="retire", because="Old")
    text = client.get(at("approvals")).text
    assert "You asked for it" in text
    assert at("settle-worth", WorthDecision.objects.get().pk) not in text


def test_the_page_asks_once_who_else_approves(client, director, school):
    client.force_login(director)
    counts = []
    for _ in range(3):
        decide(client, make_stuck_instrument(school=school, year_made=2020), answer="retire", because="Old")
        with CaptureQueriesContext(connection) as asked:
            text = client.get(at("approvals")).text
        counts.append(len(asked))
    assert text.count("You asked for it") == 3
    assert len({*counts}) == 1
