from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.models import Event
from core.photos import clean_photo
from inventory.exceptions import RefusedError
from inventory.models import Instrument, PlayTest, ProblemReport
from inventory.rules.facts import Owed
from inventory.services.care import (
    NOTICES_PER_INSTRUMENT,
    answer_report,
    confirm_report,
    keep_photo,
    record_cleaning,
    record_play_test,
    report_problem,
    require_hygiene,
    source_of,
)
from tests.factories import NOW, make_instrument, make_ready_instrument, make_user
from tests.pictures import jpeg

LATER = NOW + timedelta(hours=2)


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


def state(instrument: Instrument) -> tuple[str, str]:
    fresh = Instrument.objects.get(pk=instrument.pk)
    return fresh.verdict, fresh.readiness


def test_a_failed_play_test_keeps_it_in_until_a_later_one_passes(instrument, tech):
    record_play_test(instrument=instrument, result="fail", failed_notes=["C4"], actor=tech, at=NOW)
    assert state(instrument) == ("does_not_play", "stays_in")
    record_play_test(instrument=instrument, result="pass", actor=tech, at=LATER)
    assert state(instrument) == ("plays", "may_go_out")


def test_limits_of_a_play_test_go_with_the_instrument(instrument, tech):
    record_play_test(instrument=instrument, result="limits", limits_text="Low C only loud.", actor=tech, at=NOW)
    assert state(instrument) == ("plays_with_limits", "may_go_out_with_limits")
    assert Instrument.objects.get(pk=instrument.pk).limits == ["Low C only loud."]


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"result": "fine"}, "pass, limits or fail"),
        ({"result": "limits", "limits_text": "  "}, "what the limits are"),
        ({"result": "fail"}, "Name the notes"),
        ({"result": "pass", "failed_notes": ["C4"]}, "marked as failed"),
    ],
)
def test_a_play_test_that_says_nothing_is_refused(instrument, tech, told, says):
    before = Event.objects.count()
    with pytest.raises(RefusedError, match=says):
        record_play_test(instrument=instrument, actor=tech, at=NOW, **told)
    assert not PlayTest.objects.exists()
    assert Event.objects.count() == before


def test_what_was_played_on_and_measured_is_kept(instrument, tech):
    test = record_play_test(
        instrument=instrument,
        result="pass",
        measures=[{"written": "C4", "cents": 3.2, "spread": 1.0, "tries": 2, "spoke": True}],
        tester_plays="Horn",
        played_with="7C mouthpiece",
        room_celsius=Decimal("24.5"),
        actor=tech,
        at=NOW,
    )
    kept = PlayTest.objects.get(pk=test.pk)
    assert (kept.played_with, kept.room_celsius, kept.measures[0]["cents"]) == ("7C mouthpiece", Decimal("24.5"), 3.2)


def test_hygiene_is_due_after_a_player_and_done_once(instrument, tech):
    require_hygiene(instrument=instrument, actor=tech, at=NOW)
    assert state(instrument)[1] == "stays_in"
    for _ in range(2):
        record_cleaning(instrument=instrument, done=[Owed.HYGIENE], actor=tech, at=LATER)
    assert state(instrument)[1] == "may_go_out"
    assert Event.objects.filter(act="cleaned").count() == 1


def test_cleaning_with_what_and_how_long_is_kept_and_each_is_owed_until_done(school, tech):
    gift = make_ready_instrument(school=school, acquired_by="gift")
    assert gift.owed == set(Owed)
    assert state(gift)[1] == "stays_in"
    record_cleaning(instrument=gift, done=[Owed.HYGIENE], product="alcohol", wet_minutes=1, actor=tech, at=LATER)
    assert state(gift)[1] == "may_go_out"
    assert Instrument.objects.get(pk=gift.pk).owed == {Owed.FULL}
    assert Event.objects.get(act="cleaned").after == {"done": ["hygiene"], "product": "alcohol", "wet_minutes": 1}
    record_cleaning(instrument=gift, done=Owed, actor=tech, at=LATER)
    assert Instrument.objects.get(pk=gift.pk).owed == frozenset()


def test_a_drum_asks_for_no_hygiene(school, tech):
    drum = make_ready_instrument(school=school, kind_code="bass_drum_concert")
    require_hygiene(instrument=drum, actor=tech, at=NOW)
    assert Instrument.objects.get(pk=drum.pk).is_hygiene_due is False


def test_a_confirmed_report_keeps_it_in_until_answered_once(instrument, tech):
    report = report_problem(instrument=instrument, text="A valve sticks.", at=NOW)
    assert state(instrument)[1] == "may_go_out"  # anybody can write one
    for _ in range(2):
        confirm_report(report=report, actor=tech, at=NOW)
    assert Event.objects.filter(act="report_confirmed").count() == 1
    assert state(instrument)[1] == "stays_in"
    answer_report(report=report, actor=tech, at=LATER, answer="Oiled.")
    answer_report(report=report, actor=tech, at=LATER, answer="Oiled.")
    with pytest.raises(RefusedError, match=f"already been answered; yours was not kept. {tech} did that today at "):
        answer_report(report=report, actor=make_user(), at=LATER, answer="Again.")
    assert ProblemReport.objects.get().answer == "Oiled."
    assert state(instrument)[1] == "may_go_out"


def test_one_source_may_report_so_often_an_hour(instrument, settings):
    settings.REPORTS_PER_HOUR = 2
    source = source_of("192.0.2.7")
    for _ in range(2):
        report_problem(instrument=instrument, text="Again.", at=NOW, source=source)
    with pytest.raises(RefusedError, match="try again in an hour"):
        report_problem(instrument=instrument, text="And again.", at=NOW, source=source)
    report_problem(instrument=instrument, text="Later.", at=NOW + timedelta(minutes=61), source=source)
    assert ProblemReport.objects.count() == 3


def test_what_staff_report_keeps_it_in_at_once_and_has_no_limit(instrument, tech, settings):
    settings.REPORTS_PER_HOUR = 1
    for _ in range(NOTICES_PER_INSTRUMENT + 1):
        report_problem(instrument=instrument, text="A valve sticks.", at=NOW, actor=tech, source="same")
    assert state(instrument)[1] == "stays_in"
    assert not ProblemReport.objects.unconfirmed().exists()


def test_an_instrument_has_so_many_notices_waiting_wherever_they_come_from(instrument, tech):
    sent = [
        report_problem(instrument=instrument, text="Broken.", at=NOW, source=str(number))
        for number in range(NOTICES_PER_INSTRUMENT)
    ]
    with pytest.raises(RefusedError, match="waiting already"):
        report_problem(instrument=instrument, text="Broken.", at=NOW, source="another")
    answer_report(report=sent[0], actor=tech, at=NOW, answer="It plays.")
    report_problem(instrument=instrument, text="Broken.", at=NOW, source="another")


def test_an_answered_report_is_not_confirmed_any_more(instrument, tech):
    report = report_problem(instrument=instrument, text="A valve sticks.", at=NOW)
    answer_report(report=report, actor=tech, at=NOW, answer="Oiled.")
    with pytest.raises(RefusedError, match="already been answered"):
        confirm_report(report=report, actor=tech, at=NOW)


def test_one_network_is_one_source():
    """A phone takes a new IPv6 address within its /64 whenever it likes (RFC 8981)."""
    assert source_of("2001:db8:1:2::7") == source_of("2001:db8:1:2:ffff::9") != source_of("2001:db8:1:3::7")


def test_a_source_is_not_an_address(settings):
    assert "192.0.2.7" not in source_of("192.0.2.7")
    assert len(source_of("192.0.2.7")) == 64


def test_an_empty_report_is_refused(instrument):
    with pytest.raises(RefusedError, match="few words"):
        report_problem(instrument=instrument, text=" \n ", at=NOW)


def test_events_hold_no_text_of_people(instrument, tech):
    report = report_problem(instrument=instrument, text="Ask Kim Lee about it", at=NOW)
    answer_report(report=report, actor=tech, at=LATER, answer="Kim Lee was right")
    told = [str(event.before) + str(event.after) for event in Event.objects.all()]
    assert not any("Kim" in words for words in told)


def test_the_same_photo_again_is_one_row(school, tech):
    instrument = make_instrument(school=school)
    first = keep_photo(instrument=instrument, photo=clean_photo(jpeg()), actor=tech, at=NOW)
    again = keep_photo(instrument=instrument, photo=clean_photo(jpeg()), actor=tech, at=LATER)
    other = keep_photo(instrument=instrument, photo=clean_photo(jpeg(color="navy")), actor=tech, at=LATER)
    assert first.pk == again.pk != other.pk
    assert first.sha256 in first.image.name


def test_the_same_picture_of_two_instruments_is_one_file(school, tech):
    photo = clean_photo(jpeg(color="olive"))
    rows = [keep_photo(instrument=make_instrument(school=school), photo=photo, actor=tech, at=NOW) for _ in range(2)]
    assert rows[0].image.name == rows[1].image.name
    assert rows[0].small.name == rows[1].small.name != rows[0].image.name
    with rows[1].image.open("rb") as file:
        assert file.read() == photo.jpeg
