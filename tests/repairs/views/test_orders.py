"""One order, from the question to the bill, in the browser."""

from __future__ import annotations

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument
from repairs.models import ShopOrder
from repairs.pages.packing_slip import slips_of
from tests.factories import NOW, TODAY, make_inspection, make_instrument, new_nonce
from tests.repairs.money_makers import (
    finding_of,
    make_job,
    make_order,
    make_sent_order,
    make_shop,
    make_stuck_instrument,
)


def at(order, name="order"):
    return reverse(f"repairs:{name}", args=[order.pk])


def ask(desk, instrument, **fields):
    given = {
        "shop": make_shop().pk,
        "question": "Free it",
        "nonce": new_nonce(),
        "work": "free_slide",
        "findings": [finding_of(instrument).pk],
    }
    return desk.post(reverse("repairs:ask-shop", args=[instrument.asset_number]), given | fields)


def test_the_whole_way_there_and_back(desk, school):
    instrument = make_stuck_instrument(school=school)
    ask(desk, instrument)
    order = ShopOrder.objects.get()
    today = timezone.localdate()
    desk.post(at(order, "order-estimate"), {"amount": "95", "on": today})
    desk.post(at(order, "order-send"), {"promised_on": today + timedelta(days=9)})
    assert Instrument.objects.get(pk=instrument.pk).whereabouts == "at_shop"
    back = {"what_was_done": "Freed", "put_right": order.findings, "warranty_until": today + timedelta(days=90)}
    page = desk.post(at(order, "order-back"), back, follow=True).text
    assert "Play-test it" in page
    desk.post(at(order, "order-invoice"), {"amount": "95", "number": "B-1", "on": today})
    page = desk.get(at(order)).text
    assert "Back and billed" in page
    assert "Warranty until" in page
    assert finding_count(instrument) == 0


def finding_count(instrument) -> int:
    return instrument.inspections.filter(findings__closed_at=None, findings__isnull=False).count()


def test_the_form_is_filled_from_what_the_bench_cannot_do(desk, school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("valve_casing", "crack_brass", "severe", "2")])
    make_shop()
    page = desk.get(reverse("repairs:ask-shop", args=[instrument.asset_number])).text
    assert "checked" in page
    assert 'name="expected_high_amount" value="' in page or "expected_high_amount" in page


def test_without_a_shop_one_is_sent_to_the_list_and_with_an_order_to_it(desk, school):
    instrument = make_stuck_instrument(school=school)
    url = reverse("repairs:ask-shop", args=[instrument.asset_number])
    assert desk.get(url).headers["Location"] == reverse("repairs:shops")
    order = make_order(instrument=instrument)
    assert desk.get(url).headers["Location"] == at(order)


def test_least_above_most_is_asked_again(desk, school):
    answer = ask(desk, make_stuck_instrument(school=school), expected_low_amount="9", expected_high_amount="2")
    assert answer.status_code == 422
    assert "less than the lowest expected cost" in answer.text


def test_above_the_limit_a_tech_cannot_send_and_a_director_approves(client, desk, school, director):
    order = make_order(instrument=make_stuck_instrument(school=school), expected_high_amount=400)
    answer = desk.post(at(order, "order-send"), {})
    assert answer.status_code == 422
    assert "must approve it first" in answer.text
    assert desk.get(at(order, "order-approve")).status_code == 403
    desk.post(at(order, "order-estimate"), {"amount": "400", "on": timezone.localdate()})
    client.force_login(director)
    assert client.get(reverse("repairs:approvals")).text.count(order.instrument.asset_number) == 1
    client.post(at(order, "order-approve"), {"amount": "400"})
    assert client.post(at(order, "order-send"), {}).status_code == 302
    assert "Approved up to $400" in client.get(at(order)).text


def test_a_stale_page_is_told_and_changes_nothing(desk, school):
    order = make_order(instrument=make_stuck_instrument(school=school))
    desk.post(at(order, "order-call-off"), {"because": "We do it here"})
    answer = desk.post(at(order, "order-send"), {})
    assert answer.status_code == 422
    assert "canceled" in answer.text
    assert ShopOrder.objects.get().sent_at is None


def test_what_is_back_with_an_open_job_leads_to_it(desk, school):
    job = make_job(instrument=make_stuck_instrument(school=school))
    order = make_order(instrument=job.instrument, at=NOW)
    desk.post(at(order, "order-send"), {})
    page = desk.post(at(order, "order-back"), {"what_was_done": "Done"}, follow=True).text
    assert reverse("repairs:job", args=[job.pk]) in page


def test_an_order_is_written_and_sent_in_one_go_and_its_job_fetches_it(desk, school):
    instrument = make_stuck_instrument(school=school)
    job = make_job(instrument=instrument)
    page = reverse("repairs:job", args=[job.pk])
    asking = reverse("repairs:ask-shop", args=[instrument.asset_number])
    assert (
        ask(desk, instrument, work="tube_replace", expected_high_amount="90", then="send").headers["Location"] == page
    )
    order = ShopOrder.objects.get()
    assert order.is_away
    assert f'href="{asking}?back=1"' in desk.get(page).text
    assert desk.get(asking, {"back": "1"}).headers["Location"] == at(order, "order-back")
    form = desk.get(at(order, "order-back")).context["form"]
    assert form["what_was_done"].value() == "As asked."
    done = {"what_was_done": "Freed", "put_right": order.findings}
    assert desk.post(at(order, "order-back"), done).headers["Location"] == page
    assert Instrument.objects.get(pk=instrument.pk).whereabouts == "on_bench"


def test_an_order_above_the_limit_is_written_but_not_sent_in_one_go(desk, school):
    instrument = make_stuck_instrument(school=school)
    answer = ask(desk, instrument, expected_high_amount="900", then="send")
    order = ShopOrder.objects.get()
    assert (order.sent_at, answer.headers["Location"]) == (None, at(order))
    assert "must approve it first" in desk.get(at(order)).text


def test_the_packing_slip_is_a_pdf_and_names_no_person_of_the_school(desk, school):
    order = make_order(instrument=make_stuck_instrument(school=school))
    answer = desk.get(at(order, "packing-slip"))
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    slip = slips_of([order], home="https://horns.example/", today=TODAY)[0]
    assert slip["tag_url"].startswith("HTTPS://HORNS.EXAMPLE/T/")
    assert any("main tuning slide" in words.lower() for words in slip["findings"]) or slip["findings"] == []


def two_for_a_shop(school):
    findings = [("leadpipe", "red_rot", "severe")]
    rows = [make_instrument(school=school) for _ in range(3)]
    for row in rows:
        make_inspection(instrument=row, findings=findings)
    return rows


def test_several_are_asked_together_and_posting_twice_counts_once(desk, school):
    first, second, third = two_for_a_shop(school)
    shop = make_shop().pk
    page = desk.get(reverse("repairs:ask-shop", args=[first.asset_number])).text
    assert f'value="{second.asset_number}"' in page
    nonce = new_nonce()
    fields = {"also": [second.asset_number], "also_numbers": third.asset_number, "work": "free_slide", "nonce": nonce}
    for _ in range(2):
        ask(desk, first, **fields, shop=shop)
    orders = ShopOrder.objects.order_by("pk")
    assert [order.instrument for order in orders] == [first, second, third]
    assert {order.together for order in orders} == {nonce}
    assert all("red rot" in order.question.lower() and order.findings for order in orders[1:])
    page = desk.get(at(orders[0])).text
    assert second.asset_number in page
    assert third.asset_number in page


def test_what_was_asked_together_is_sent_together_or_not_at_all(desk, school):
    first, second, third = two_for_a_shop(school)
    along = [second.asset_number, third.asset_number]
    ask(desk, first, also=along, work="free_slide")
    one, two, three = ShopOrder.objects.order_by("pk")
    ShopOrder.objects.update(expected_low_amount=30, expected_high_amount=40)
    ShopOrder.objects.filter(pk=two.pk).update(estimate_amount=900)
    answer = desk.post(at(one, "order-send"), {"others": [two.pk, three.pk]})
    assert answer.status_code == 422
    assert second.asset_number in answer.text
    assert not ShopOrder.objects.exclude(sent_at=None).exists()
    desk.post(at(one, "order-send"), {"others": [three.pk]})
    assert list(ShopOrder.objects.exclude(sent_at=None).order_by("pk")) == [one, three]


def test_what_is_rarely_asked_is_folded_until_something_is_refused(desk, school):
    instrument = make_stuck_instrument(school=school)
    make_shop()
    page = desk.get(reverse("repairs:ask-shop", args=[instrument.asset_number])).text
    seen, _, folded = page.partition('<details class="fold whole" >')
    for name in ("shop", "question", "work", "trip_amount"):
        assert f'name="{name}"' in seen
    for name in ("promised_on", "purchase_order", "also_numbers"):
        assert f'name="{name}"' in folded.partition("</details>")[0]
    refused = ask(desk, instrument, also_numbers="NOBODY-1")
    assert refused.status_code == 422
    assert '<details class="fold whole" open>' in refused.text


def test_a_finding_is_asked_about_from_where_it_is_read(desk, school):
    instrument = make_stuck_instrument(school=school)  # the bench could free it itself
    finding = finding_of(instrument)
    page = desk.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    way = f"{reverse('repairs:ask-shop', args=[instrument.asset_number])}?finding={finding.pk}"
    assert way in page
    make_shop()
    page = desk.get(way).text
    assert "Free the tuning slide: main tuning slide" in page
    assert desk.get(f"{way}&finding=²").status_code == 200


def test_another_school_s_instrument_does_not_go_along_and_its_order_is_not_there(client, school, director):
    client.force_login(director)
    mine, other = make_stuck_instrument(school=school), make_stuck_instrument()
    answer = ask(client, mine, also_numbers=other.asset_number)
    assert answer.status_code == 422
    assert other.asset_number in answer.text
    order = make_sent_order(instrument=other)
    for name in ("order-promise", "order-take-back", "order-unapprove", "packing-slip"):
        assert client.get(at(order, name)).status_code == 404, name
    assert ShopOrder.objects.get() == order


def test_a_mistake_is_taken_back_from_the_order_s_page(desk, school):
    order = make_sent_order(instrument=make_stuck_instrument(school=school))
    page = desk.get(at(order)).text
    assert at(order, "order-take-back") in page
    form = desk.get(at(order, "order-take-back"))
    assert "Undo: Sent" in form.text
    number = form.context["form"]["number"].value()
    answer = desk.post(at(order, "order-take-back"), {"number": number, "because": "Wrong case", "nonce": new_nonce()})
    assert answer.status_code == 302
    page = desk.get(at(order)).text
    assert "Ready to send" in page
    assert "Wrong case" in page
    stale = desk.post(at(order, "order-take-back"), {"number": number, "because": "Again", "nonce": new_nonce()})
    assert stale.status_code == 422
