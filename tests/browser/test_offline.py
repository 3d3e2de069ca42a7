"""A phone whose signal is cut: what it still shows, and that each tap arrives once.

What a person does in a storage room is common practice, no source. The word "signal" of the notice is ours.
"""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import expect

from inventory.models import Inspection, PlayTest, Purpose, Sighting
from inventory.services.counts import open_count
from tests.factories import NOW, make_instrument
from tests.plugins.browser import until
from tests.plugins.device import AGAIN_S, DUMP, ROWS, begun_walk, carried, log_out, lose_each_answer_once
from tests.plugins.hand import Finger
from tests.repairs.makers import make_job


def test_an_inspection_begins_and_ends_without_a_signal(school, tech, phone):
    example = make_instrument(school=school, asset_number="TV-1")
    instrument = make_instrument(school=school, asset_number="TV-2")
    page = phone()
    page.context.set_offline(True)
    page.goto(reverse("desk:find") + "?text=50%25")
    expect(page.get_by_label("Number, serial or kind")).to_have_value("50%")
    page.goto(reverse("desk:find") + "?text=TV-2")
    expect(page.locator(".offline-note")).to_contain_text("No signal. Last updated")
    finger = Finger(page)
    finger.go(page.get_by_role("link", name="Inspect: On arrival"))
    finger.tap("Yes, safe")
    finger.enter("mouthpiece_stuck", "severe", "")
    page.reload()
    page.get_by_role("button", name="Fine", exact=True).wait_for()
    finger.tap("All fine from here")
    finger.tap("All there")
    finger.tap("Finish and see the verdict")
    page.get_by_text("Finished on this phone").wait_for()
    page.goto(reverse("desk:today"))
    expect(page.locator("[data-sending-says]")).to_contain_text("Saved on this phone: 6")
    assert Inspection.objects.count() == 0
    page.context.set_offline(False)
    until(page, lambda: Inspection.objects.finished().exists())
    walk = Inspection.objects.get()
    assert walk.instrument == instrument
    assert walk.purpose == Purpose.INTAKE
    assert [finding.fault for finding in walk.findings.all()] == ["mouthpiece_stuck"]
    assert walk.looks.count() == len(instrument.parts) - 1
    expect(page.locator("[data-sending-says]")).to_contain_text("Sent")
    assert example.inspections.count() == 0


def test_a_signal_lost_while_pages_are_fetched_again_leaves_those_of_before(school, tech, phone):
    there, gone = (make_job(school=school, actor=tech) for _ in range(2))
    page = phone()
    page.clock.set_fixed_time(timezone.now() + timedelta(minutes=31))
    page.context.route(f"**{reverse('repairs:job', args=[there.pk])}*", lambda route: route.abort())
    page.context.route(f"**{reverse('repairs:job', args=[gone.pk])}*", lambda route: route.fulfill(status=404))
    carried(page)
    page.context.unroute_all()
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[there.pk]))
    expect(page.locator("#step-title")).to_be_attached()
    page.goto(reverse("repairs:job", args=[gone.pk]))
    expect(page.locator("#step-title")).not_to_be_attached()
    page.context.set_offline(False)
    carried(page)  # at once, not half an hour later
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[gone.pk]))
    expect(page.locator("#step-title")).to_be_attached()


def test_while_pages_are_still_loading_only_what_is_there_is_offered_and_how_far_it_is_is_said(school, tech, open_page):
    make_instrument(school=school, asset_number="TV-1")
    page = open_page(user=tech, service_workers="allow")
    walk = f"**{reverse('inventory:walk-like', args=['TV-1'])}"
    page.context.route(walk, lambda _route: None)  # is never answered
    with page.expect_request(walk):
        page.goto(reverse("desk:today"))
    page.context.set_offline(True)
    page.goto(reverse("desk:find") + "?text=TV-1")
    expect(page.get_by_text(re.compile(r"^Still loading: \d+ of \d+[.]$"))).to_be_visible()
    expect(page.get_by_text("TV-1", exact=True)).to_be_visible()
    expect(page.get_by_role("link", name="Inspect: On arrival")).to_have_count(0)
    page.context.unroute_all()
    page.context.set_offline(False)
    carried(page)
    page.context.set_offline(True)
    page.goto(reverse("desk:find") + "?text=TV-1")
    expect(page.get_by_role("link", name="Inspect: On arrival")).to_be_visible()
    expect(page.get_by_text("Still loading")).to_be_hidden()


@pytest.mark.drill
def test_each_try_in_vain_is_later_than_the_last_and_as_late_as_the_server_asks(school, tech, open_page):
    """Retry-After: RFC 9110, section 10.2.3, in seconds. Doubling: common practice, no source."""
    walk = begun_walk(make_instrument(school=school), tech)
    page = open_page(user=tech)
    page.clock.install(time=NOW)
    page.goto(reverse("inventory:walk", args=[walk.pk]))
    tries = []
    headers: dict[str, str] = {}

    def busy(route) -> None:
        tries.append(1)
        route.fulfill(status=503, headers=headers)

    page.route("**/walk/*/fine/", busy)
    page.clock.pause_at(NOW + timedelta(minutes=1))
    page.get_by_role("button", name="Fine", exact=True).tap()
    until(page, lambda: len(tries) == 1)
    for number, (seconds, asked) in enumerate([(5, ""), (10, ""), (20, "600"), (600, "")], start=2):
        headers["Retry-After"] = asked
        page.wait_for_timeout(500)
        page.clock.run_for((seconds - 1) * 1000)
        page.wait_for_timeout(500)
        assert len(tries) == number - 1
        page.clock.run_for(1000)
        until(page, lambda count=number: len(tries) == count)


@pytest.mark.drill
def test_what_a_phone_carries_is_encrypted_in_no_cache_and_gone_at_log_out(school, tech, phone):
    make_instrument(school=school, asset_number="TV-ZEPHYR")
    page = phone()
    found = page.evaluate(DUMP)
    assert any(row["kind"].startswith("page ") for row in found["databases"][ROWS])
    assert "TV-ZEPHYR" not in json.dumps(found)
    (cached,) = found["caches"]
    kept = page.evaluate(
        "async (name) => (await (await caches.open(name)).keys()).map((one) => new URL(one.url).pathname)", cached
    )
    assert [path for path in kept if not path.startswith("/static/")] == ["/no-signal/"]
    log_out(page)
    page.wait_for_url("**/log-in/**")
    assert not any(page.evaluate(DUMP)["databases"].values())
    page.context.set_offline(True)
    with pytest.raises(PlaywrightError):  # neither the worker nor its cache is left
        page.goto(reverse("desk:today"))


@pytest.mark.drill
def test_when_its_time_is_over_a_kept_page_is_not_shown(school, tech, phone):
    page = phone()
    page.context.set_offline(True)
    page.goto(reverse("desk:offline"))
    page.get_by_role("heading", name="Offline").wait_for()
    page.evaluate("""() => new Promise((resolve) => {
      const asked = indexedDB.open("hornbook-device");
      asked.onsuccess = () => {
        const keys = asked.result.transaction("keys", "readwrite").objectStore("keys");
        keys.getAll().onsuccess = ({ target }) => { for (const one of target.result) keys.put({ ...one, until: Date.now() - 1 }); };
        keys.transaction.oncomplete = () => { asked.result.close(); resolve(); };
      };
    })""")
    page.goto(reverse("desk:offline"))
    page.get_by_role("heading", name="No signal").wait_for()


@pytest.mark.drill
def test_what_is_counted_without_a_signal_is_counted_once(school, director, tech, phone):
    for number in (1, 2):
        make_instrument(school=school, asset_number=f"TV-{number}")
    count = open_count(school=school, actor=director, at=NOW)
    page = phone()
    lost = lose_each_answer_once(page, "**/counts/**")
    page.context.set_offline(True)
    page.goto(reverse("desk:count", args=[count.pk]))
    for number in ("TV-1", "TV-2", "TV-1"):
        page.get_by_label("Tag, bar code or number").fill(number)
        page.keyboard.press("Enter")
    page.get_by_text("Saved on this phone: 3").wait_for()
    page.context.set_offline(False)
    until(page, lambda: Sighting.objects.count() == 2)
    expect(page.locator("[data-sending]")).to_be_hidden()
    assert len(lost) == 3


@pytest.mark.drill
def test_a_play_test_without_a_signal_is_saved_and_one_that_is_refused_is_filled_in_again(school, tech, phone):
    job = make_job(school=school, actor=tech)
    page = phone()
    page.context.set_offline(True)
    number = job.instrument.asset_number
    like = f"{reverse('inventory:play-test-like', args=[number])}?number={number}"
    for result in ("fail", "pass"):
        page.context.set_offline(True)
        page.goto(like)
        page.locator(f'label:has(input[name="result"][value="{result}"])').tap()
        page.get_by_role("button", name="Save play test").tap()
        page.get_by_text("Saved on this phone: 1").wait_for()
        page.context.set_offline(False)
        page.get_by_text("1 needs your attention" if result == "fail" else "Play test saved: pass").wait_for()
        page.goto(like)
        if result == "fail":
            expect(page.locator("[data-filled-in-says]")).to_contain_text("was not saved. It is filled in again")
            expect(page.locator('input[name="result"][value="fail"]')).to_be_checked()
            with page.expect_navigation():
                page.get_by_role("button", name="Start over").tap()
    assert PlayTest.objects.get().result == "pass"


@pytest.mark.drill
def test_one_page_takes_the_play_tests_of_instruments_built_alike(school, tech, phone):
    for number in (1, 2):
        make_instrument(school=school, asset_number=f"TV-{number}")
    page = phone()
    page.context.set_offline(True)
    for count, number in enumerate(("TV-1", "TV-2", "TV-2"), start=1):
        page.goto(reverse("desk:instrument", args=[number]))
        page.get_by_role("link", name="Play test", exact=True).tap()
        expect(page.locator("[data-number-here]")).to_have_text(number)
        page.locator('label:has(input[name="result"][value="pass"])').tap()
        page.get_by_role("button", name="Save play test").tap()
        page.get_by_text(f"Saved on this phone: {count}").wait_for()
    page.context.set_offline(False)
    until(page, lambda: PlayTest.objects.count() == 3)
    assert sorted(PlayTest.objects.values_list("instrument__asset_number", flat=True)) == ["TV-1", "TV-2", "TV-2"]


@pytest.mark.drill
def test_a_begun_inspection_survives_a_cut_at_every_step(school, tech, phone):
    """The signal comes and goes between any two taps, and each answer of the server is lost once."""
    instrument = make_instrument(school=school, asset_number="TV-1")
    page = phone()
    lost = lose_each_answer_once(page, "**/instruments/**")
    page.context.set_offline(True)
    page.goto(reverse("inventory:inspect", args=["TV-1"]))
    page.wait_for_url("**/walk/like/**")
    finger = Finger(page)
    finger.tap("Yes, safe")
    for _ in range(3):
        finger.tap("Fine")
        page.context.set_offline(False)
        page.wait_for_timeout(1500)
        page.context.set_offline(True)
    finger.tap("All fine from here")
    finger.tap("All there")
    finger.tap("Finish and see the verdict")
    page.context.set_offline(False)
    until(page, lambda: Inspection.objects.finished().exists(), seconds=AGAIN_S * 9)
    walk = Inspection.objects.get()
    assert walk.looks.count() == len(instrument.parts)
    assert len(lost) >= 4
