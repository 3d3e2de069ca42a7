"""The play test in a real browser with a microphone that plays a made sound file."""

from __future__ import annotations

import math
import struct
import wave
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from inventory.models import PlayTest
from inventory.pages.playing import play_test_page
from inventory.rules.pitch import frequency
from tests.factories import make_ready_instrument
from tests.plugins.browser import PHONE, Watch, filled_in, log_in, until

RATE = 48_000
TONE_S, REST_S = 2.0, 1.3
HARMONICS = (0.6, 1.0, 0.8, 0.6, 0.4, 0.3)
CLOSE_CENTS = 3.0


def write_tones(path: Path, tones: list[float]) -> None:
    """A sound file of steady tones (hertz) with rests between; Chromium's microphone plays it over and over."""
    samples: list[int] = [0] * int(RATE * REST_S)
    for hertz in tones:
        count = int(RATE * TONE_S)
        for i in range(count):
            swell = min(1.0, i / 2400, (count - i) / 2400)
            value = sum(
                strength * math.sin(2 * math.pi * hertz * number * i / RATE)
                for number, strength in enumerate(HARMONICS, start=1)
            )
            samples.append(int(32_767 * 0.2 * swell * value))
        samples += [0] * int(RATE * REST_S)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(struct.pack(f"<{len(samples)}h", *samples))


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("kind_code", "level", "offsets"),
    [("tuba", "concert", [12.0, -8.0, 20.0]), ("flute", "first_year", [-15.0, 4.0, 0.0])],
)
def test_the_microphone_hears_three_notes_and_moves_on(  # noqa: PLR0917  # fixtures and the case's figures
    launch, live_server, tech, school, tmp_path, kind_code, level, offsets
):
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    notes = play_test_page(instrument, level=level)["notes"]
    sound = tmp_path / "tones.wav"
    write_tones(
        sound, [frequency(note["sounding"]) * 2 ** (cents / 1200) for note, cents in zip(notes, offsets, strict=False)]
    )
    watch = Watch(home=live_server.url)
    browser = launch(f"--use-file-for-fake-audio-capture={sound}")
    try:
        context = browser.new_context(
            base_url=live_server.url, viewport=PHONE, has_touch=True, permissions=["microphone"]
        )
        context.set_default_timeout(40_000)
        context.on("page", watch.follow)
        log_in(context, user=tech, home=live_server.url)
        page = context.new_page()
        page.goto(reverse("inventory:play-test", args=[instrument.asset_number]) + f"?level={level}")
        page.get_by_role("button", name="Start listening").tap()
        page.locator("[data-ears-count]", has_text=f"4 of {len(notes)}").wait_for()
        page.get_by_role("button", name="Did not speak").tap()
        page.get_by_role("button", name="Stop listening").tap()
        page.locator("label", has_text="Stays in. Mark what failed.").tap()
        page.get_by_role("button", name="Save play test").tap()
        page.wait_for_url("**/play-tests/*/")
    finally:
        browser.close()
    test = PlayTest.objects.get(instrument=instrument)
    heard = {row["written"]: row for row in test.measures}
    for note, cents in zip(notes, offsets, strict=False):
        assert abs(heard[note["written"]]["cents"] - cents) <= CLOSE_CENTS, (note["written"], heard[note["written"]])
        assert heard[note["written"]]["spoke"] is True
    assert test.failed_notes == [notes[3]["written"]]
    assert heard[notes[3]["written"]]["spoke"] is False
    assert test.tried_notes == [note["written"] for note in notes[:4]]  # what nobody played counts as not played
    assert watch.errors == []


@pytest.mark.django_db(transaction=True)
def test_the_play_test_works_by_hand_without_script(open_page, tech, school):
    instrument = make_ready_instrument(school=school)
    page = open_page(user=tech, java_script_enabled=False)
    page.goto(reverse("inventory:play-test", args=[instrument.asset_number]))
    assert page.get_by_role("button", name="Start listening").is_hidden()
    page.locator('[data-note="C4"] label', has_text="fails").tap()
    page.locator('[data-note="G4"] .note-cents input').fill("-12.5")
    page.locator("label", has_text="Stays in. Mark what failed.").tap()
    page.get_by_role("button", name="Save play test").tap()
    page.wait_for_url("**/play-tests/*/")
    test = PlayTest.objects.get(instrument=instrument)
    assert (test.result, test.failed_notes) == ("fail", ["C4"])
    assert {row["written"]: row["cents"] for row in test.measures} == {"C4": None, "G4": -12.5}
    expect(page.locator("main")).to_contain_text("Suspects")


def play_page(open_page, user, instrument, *, script: str = "", query: str = ""):
    page = open_page(user=user, viewport=PHONE)
    if script:
        page.add_init_script(script)
    page.goto(reverse("inventory:play-test", args=[instrument.asset_number]) + query)
    return page


@pytest.mark.django_db(transaction=True)
def test_what_was_marked_survives_a_reload_another_level_and_a_step_back(open_page, tech, school):
    instrument = make_ready_instrument(school=school)
    page = play_page(open_page, tech, instrument)
    page.get_by_role("button", name="C4: speaks").tap()
    page.get_by_role("button", name="G4: speaks").focus()
    page.get_by_label("G4 cents").fill("-12.5")
    page.reload()
    filled_in(page)
    assert page.locator('[data-note="C4"] input[value="weak"]').is_checked()
    page.get_by_role("link", name="concert").or_(page.locator(".chips a").last).first.tap()
    page.wait_for_url("**level=**")
    filled_in(page)
    assert page.locator('[data-note="G4"] .note-cents input').input_value() == "-12.5"
    page.go_back()
    filled_in(page)
    assert page.locator('[data-note="C4"] input[value="weak"]').is_checked()
    page.locator("label", has_text="May go out, as far as playing goes.").tap()
    page.get_by_role("button", name="Save play test").tap()
    page.wait_for_url("**/play-tests/*/")
    page.goto(reverse("inventory:play-test", args=[instrument.asset_number]))
    filled_in(page)
    assert not page.locator('[data-note="C4"] input[value="weak"]').is_checked()  # saved: the next test starts over


@pytest.mark.django_db(transaction=True)
def test_a_page_that_cannot_listen_says_why(open_page, tech, school):
    insecure = """Object.defineProperty(window, 'isSecureContext', { value: false });
      Object.defineProperty(navigator, 'mediaDevices', { value: undefined });"""
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=insecure)
    expect(page.locator("[data-ears-says]")).to_contain_text("not on HTTPS")
    expect(page.get_by_role("button", name="Start listening")).to_be_hidden()


LISTEN = """navigator.mediaDevices.getUserMedia = async () => {
    const context = new AudioContext(); window.madeUp = context;
    return context.createMediaStreamDestination().stream; };"""


@pytest.mark.django_db(transaction=True)
def test_a_double_tap_fails_one_note_and_weak_is_one_tap(open_page, tech, school):
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=LISTEN)
    page.get_by_role("button", name="Start listening").tap()
    page.get_by_role("button", name="Did not speak").dblclick()
    expect(page.locator(".note-states input[value=failed]:checked")).to_have_count(1)
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Weak", exact=True).tap()
    expect(page.locator(".note-states input[value=weak]:checked")).to_have_count(1)
    page.locator("[data-ears-count]", has_text="3 of").wait_for()


@pytest.mark.django_db(transaction=True)
def test_a_microphone_that_ends_is_said_and_keeps_what_was_heard(open_page, tech, school):
    script = LISTEN.replace("return context", "return window.heard = context")
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=script)
    page.get_by_role("button", name="Start listening").tap()
    page.get_by_role("button", name="Did not speak").tap()
    page.evaluate("window.heard.getAudioTracks()[0].dispatchEvent(new Event('ended'))")
    expect(page.locator("[data-ears-says]")).to_contain_text("The microphone stopped")
    expect(page.locator(".note-states input[value=failed]:checked")).to_have_count(1)


@pytest.mark.django_db(transaction=True)
def test_a_test_in_which_nothing_was_played_is_refused(open_page, tech, school):
    instrument = make_ready_instrument(school=school)
    page = play_page(open_page, tech, instrument)
    page.get_by_role("button", name="I played only some of them").tap()
    page.locator("label", has_text="May go out, as far as playing goes.").tap()
    page.get_by_role("button", name="Save play test").tap()
    page.get_by_text("No note is marked as played").wait_for()
    assert not PlayTest.objects.filter(instrument=instrument).exists()


@pytest.mark.django_db(transaction=True)
def test_a_tap_changes_a_note_and_listening_fills_the_screen_until_escape_or_back(open_page, tech, school):
    """Four states in turn, buttons 64 px high and all of it seen on a phone on its side: the house's own, no source."""
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=LISTEN)
    address = page.url
    cell = page.locator(".cell").nth(1)
    for state in ("weak", "fails", "not played", "speaks"):
        cell.tap()
        expect(page.locator("#live")).to_have_text(f"B♭3: {state}")
        expect(cell).to_have_accessible_name(f"B♭3: {state}")
    page.keyboard.press("ArrowRight")
    expect(page.get_by_label("B3 cents", exact=True)).to_be_visible()
    page.get_by_role("button", name="Start listening").tap()
    screen = page.get_by_role("dialog")
    expect(page.locator("[data-on-staff]:visible")).to_have_attribute("data-on-staff", "A3")
    page.get_by_role("button", name="Weak", exact=True).tap()
    page.set_viewport_size({"width": 780, "height": 360})
    assert screen.bounding_box() == {"x": 0, "y": 0, "width": 780, "height": 360}
    acts = [one.bounding_box() for one in page.locator(".listen-acts button").all()]
    assert [(act["height"], act["y"] + act["height"] <= 360) for act in acts] == [(64, True)] * 3
    assert page.locator(".listen-main").evaluate("one => one.scrollHeight - one.clientHeight") == 0
    page.keyboard.press("Escape")
    expect(screen).to_be_hidden()
    expect(page.get_by_role("button", name="Listen again")).to_be_focused()
    page.get_by_role("button", name="Listen again").tap()
    page.get_by_role("button", name="Skip").tap()
    page.go_back()
    expect(screen).to_be_hidden()
    assert page.url == address
    expect(page.locator(".cell").first).to_have_accessible_name("A3: weak")


WAKE_LOCK = """window.asked = []; window.released = 0;
    Object.defineProperty(navigator, 'wakeLock', { value: { request: async (what) => {
      window.asked.push(what); return { release: async () => { window.released += 1; } }; } } });
    window.seen = 'visible';
    Object.defineProperty(document, 'visibilityState', { get: () => window.seen });
    window.turn = (to) => { window.seen = to; document.dispatchEvent(new Event('visibilitychange')); };"""


@pytest.mark.django_db(transaction=True)
def test_the_screen_stays_awake_while_it_listens_and_no_longer(open_page, tech, school):
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=LISTEN + WAKE_LOCK)
    assert page.evaluate("window.asked") == []
    page.get_by_role("button", name="Start listening").tap()
    page.locator("[data-ears-count]", has_text="1 of").wait_for()
    until(page, lambda: page.evaluate("window.asked") == ["screen"])
    page.evaluate("window.turn('hidden')")  # the browser takes the lock away by itself
    assert page.evaluate("window.asked.length") == 1
    page.evaluate("window.turn('visible')")
    until(page, lambda: page.evaluate("window.asked.length") == 2)
    page.get_by_role("button", name="Stop listening").tap()
    until(page, lambda: page.evaluate("window.released") == 1)
    page.evaluate("window.turn('visible')")
    assert page.evaluate("window.asked.length") == 2  # nobody listens: the screen may sleep
    page.get_by_role("button", name="Listen again").tap()
    page.locator("[data-ears-count]", has_text="1 of").wait_for()
    until(page, lambda: page.evaluate("window.asked.length") == 3)
    page.evaluate("window.dispatchEvent(new Event('pagehide'))")
    until(page, lambda: page.evaluate("window.released") == 2)


@pytest.mark.django_db(transaction=True)
def test_where_the_screen_cannot_be_kept_awake_it_listens_all_the_same(open_page, tech, school):
    refused = (
        "Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => { throw new Error(); } } });"
    )
    page = play_page(open_page, tech, make_ready_instrument(school=school), script=LISTEN + refused)
    page.get_by_role("button", name="Start listening").tap()
    page.locator("[data-ears-count]", has_text="1 of").wait_for()
    page.get_by_role("button", name="Did not speak").tap()
    expect(page.locator(".note-states input[value=failed]:checked")).to_have_count(1)


@pytest.mark.django_db(transaction=True)
def test_a_set_of_drums_is_marked_drum_by_drum(open_page, tech, school):
    page = play_page(open_page, tech, make_ready_instrument(school=school, kind_code="timpani_set"))
    page.get_by_role("button", name="I played only some of them").tap()
    drum = page.get_by_role("button", name="29 inch drum")
    for state in ("not played", "sounds", "weak"):
        expect(drum).to_have_accessible_name(f"29 inch drum: {state}")
        drum.tap()
    page.locator("label", has_text="Stays in. Mark what failed.").tap()
    page.get_by_role("button", name="Save play test").tap()
    page.wait_for_url("**/play-tests/*/")
    test = PlayTest.objects.get()
    assert (test.failed_notes, test.tried_notes) == (["29 inch drum"], ["29 inch drum"])
