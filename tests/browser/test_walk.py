"""The inspection walk on a phone: how many taps it takes, and what a lost connection loses (nothing)."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from core.models import PostedForm
from inventory.models import Inspection, Instrument, Purpose
from inventory.services.inspecting import answer_safety, start_inspection
from tests.factories import NOW, make_instrument
from tests.pictures import jpeg
from tests.plugins.browser import until
from tests.plugins.hand import Finger

CLEAN_TAPS = 10
TEN_FINDINGS_TAPS = 60
# part, fault, severity, place: found on a trumpet, in the order of its walk.
TEN = [
    ("mouthpiece", "mouthpiece_stuck", "moderate", ""),
    ("leadpipe", "lime_scale", "light", ""),
    ("main_tuning_slide", "slide_seized", "moderate", ""),
    ("tuning_slide_water_key", "water_key_leak", "light", ""),
    ("third_valve_slide", "slide_seized", "severe", ""),
    ("upper_felt", "felt_missing", "moderate", "2"),
    ("valve_spring", "spring_weak", "light", "3"),
    ("piston", "valve_sluggish", "moderate", "1"),
    ("second_valve_slide", "slide_seized", "moderate", ""),
    ("bell", "dent_small", "light", ""),
]


def taps_of(draft: Inspection) -> int:
    return PostedForm.objects.filter(about=f"inspection=inventory.inspection:{draft.pk}").count()


def walk_of(instrument: Instrument) -> Inspection:
    return Inspection.objects.get(instrument=instrument)


def found(inspection: Inspection) -> set[tuple[str, str, str, str]]:
    return set(inspection.findings.values_list("part", "fault", "severity", "place"))


def begun_walk(instrument: Instrument, actor) -> Inspection:
    draft = start_inspection(instrument=instrument, purpose=Purpose.INTAKE, actor=actor, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=actor, at=NOW)
    return draft


@pytest.mark.counted
@pytest.mark.django_db(transaction=True)
def test_a_clean_trumpet_takes_at_most_ten_taps(open_page, counted_hand, tech, school):
    instrument = make_instrument(school=school)
    page = open_page(user=tech)
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    finger = counted_hand(page, Finger)
    finger.tap(page.get_by_role("link", name="Inspect", exact=True))
    finger.tap("Yes, safe")
    finger.tap("All fine from here")
    finger.finish()
    walk = walk_of(instrument)
    assert walk.finished_at is not None
    assert walk.verdict == "plays"
    assert walk.looks.count() == len(instrument.parts)
    assert len(finger.taps) <= CLEAN_TAPS, finger.taps


@pytest.mark.counted
@pytest.mark.django_db(transaction=True)
def test_ten_findings_take_at_most_sixty_taps(open_page, counted_hand, tech, school):
    """Every part before a finding is answered with Fine; nothing is jumped over."""
    instrument = make_instrument(school=school)
    page = open_page(user=tech)
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    finger = counted_hand(page, Finger)
    finger.tap(page.get_by_role("link", name="Inspect", exact=True))
    finger.tap("Yes, safe")
    for part, fault, severity, place in TEN:
        while finger.at() != part:
            finger.tap("Fine")
        finger.enter(fault, severity, place)
    finger.tap("All fine from here")
    finger.finish()
    walk = walk_of(instrument)
    assert found(walk) == set(TEN)
    assert walk.looks.count() == len(instrument.parts) - len(TEN)
    assert len(finger.taps) <= TEN_FINDINGS_TAPS, len(finger.taps)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_taps_without_a_connection_are_there_after_the_tab_was_closed(open_page, tech, school):
    draft = begun_walk(make_instrument(school=school), tech)
    page = open_page(user=tech)
    address = reverse("inventory:walk", args=[draft.pk])
    page.goto(address)
    page.context.set_offline(True)
    finger = Finger(page)
    for part, fault, severity, place in TEN:
        while finger.at() != part:
            finger.tap("Fine")
        finger.enter(fault, severity, place)
    page.locator("[data-saved]", has_text="kept on this phone").wait_for()
    assert found(draft) == set()
    context = page.context
    page.close()
    context.set_offline(False)
    fresh = context.new_page()
    fresh.goto(address)
    until(fresh, lambda: draft.findings.count() == len(TEN))
    assert found(draft) == set(TEN)
    assert fresh.locator("[data-seen]").inner_text() == str(draft.findings.count() + draft.looks.count())
    assert taps_of(draft) == draft.findings.count() + draft.looks.count()


@pytest.mark.django_db(transaction=True)
def test_a_photo_taken_without_a_connection_arrives_with_its_finding(open_page, tech, school, tmp_path):
    draft = begun_walk(make_instrument(school=school), tech)
    picture = tmp_path / "bell.jpg"
    picture.write_bytes(jpeg())
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk-part", args=[draft.pk, "bell"]))
    page.context.set_offline(True)
    finger = Finger(page)
    finger.tap(page.get_by_role("link", name="Something is wrong"))
    finger.tap(finger.stop.locator('.fault-name:has(input[value="dent_small"])'))
    finger.tap(finger.stop.locator(".more summary"))
    finger.stop.locator('input[type="file"]').set_input_files(picture)
    finger.stop.locator("textarea").fill('Near the rim, "thumb" sized <b>')
    finger.tap(finger.stop.locator('.fault:has(input[value="dent_small"]) button[value="light"]'))
    page.context.set_offline(False)
    until(page, draft.photos.exists)
    assert draft.photos.get().part == "bell"
    assert draft.findings.get().note == 'Near the rim, "thumb" sized <b>'


@pytest.mark.django_db(transaction=True)
def test_a_tap_whose_answer_was_lost_counts_once(open_page, tech, school):
    draft = begun_walk(make_instrument(school=school), tech)
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk", args=[draft.pk]))
    lost: list[str] = []

    def lose_first_answer(route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.request.url)
        route.fetch()  # the server has it
        route.abort()  # the phone does not know

    page.route("**/fine/", lose_first_answer)
    Finger(page).tap("Fine")
    page.locator("[data-saved]", has_text="1 kept on this phone").wait_for()
    page.locator("[data-saved]", has_text="Every tap").wait_for()
    assert len(lost) == 1
    assert draft.looks.count() == 1
    assert taps_of(draft) == 1


@pytest.mark.django_db(transaction=True)
def test_two_quick_taps_answer_one_part(open_page, tech, school):
    draft = begun_walk(make_instrument(school=school), tech)
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk", args=[draft.pk]))
    page.get_by_role("button", name="Fine", exact=True).dblclick()
    until(page, draft.looks.exists)
    page.wait_for_timeout(500)
    assert draft.looks.count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_page_left_open_while_somebody_else_finishes_says_so(open_page, tech, school):
    from inventory.services.inspecting import finish_inspection, look_at_rest

    draft = begun_walk(make_instrument(school=school), tech)
    page = open_page(user=tech)
    page.goto(reverse("inventory:walk", args=[draft.pk]))
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    page.get_by_role("button", name="Fine", exact=True).tap()
    page.wait_for_selector(".page-head .verdict-big")
    expect(page.locator("main")).to_contain_text("already finished")


@pytest.mark.django_db(transaction=True)
def test_the_walk_works_without_script(open_page, tech, school):
    instrument = make_instrument(school=school)
    page = open_page(user=tech, java_script_enabled=False)
    page.goto(reverse("inventory:inspect", args=[instrument.asset_number]))
    finger = Finger(page)
    finger.tap("Yes, safe")
    finger.enter("mouthpiece_stuck", "severe", "")
    while finger.at() != "piston":
        finger.tap(page.locator('[data-mark="piston"] a'))
    finger.tap(page.get_by_role("link", name="Something is wrong"))
    finger.tap(finger.stop.locator('.places label:has(input[value="2"])'))
    finger.tap(finger.stop.locator('.fault-name:has(input[value="valve_stuck"])'))
    finger.tap(finger.stop.locator('.fault:has(input[value="valve_stuck"]) button[value="severe"]'))
    finger.tap("All fine from here")
    finger.finish()
    assert found(walk_of(instrument)) == {
        ("mouthpiece", "mouthpiece_stuck", "severe", ""),
        ("piston", "valve_stuck", "severe", "2"),
    }
