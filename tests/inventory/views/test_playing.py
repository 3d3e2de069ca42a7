from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Instrument, PlayTest
from inventory.services.care import record_play_test
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


@pytest.fixture(autouse=True)
def logged_in(client, tech):
    client.force_login(tech)


def address(instrument: Instrument) -> str:
    return reverse("inventory:play-test", args=[instrument.asset_number])


@pytest.mark.parametrize(
    "kind_code", ["trumpet", "clarinet_bb", "horn_double", "trombone_f", "tuba", "snare_kit", "marimba", "violin"]
)
def test_every_kind_has_its_page(client, school, kind_code):
    page = client.get(address(make_ready_instrument(school=school, kind_code=kind_code)))
    assert page.status_code == 200
    assert "What to play" in page.text
    assert page.text.count("data-on-staff=") in {0, page.text.count("data-note=")}


def test_a_pass_is_kept_with_all_that_was_told(client, instrument):
    measures = [{"written": "C4", "cents": 4.04, "spread": 1.2, "tries": 3, "spoke": True}]
    told = {
        "result": "pass",
        "tester_plays": "Trombone",
        "played_with": "7C",
        "room_degrees": "77",
        "room_unit": "F",
        "tuning_cents": "-4",
        "measures": json.dumps(measures),
        "cents-G4": "6",
        "state-E4": "weak",
    }
    answer = client.post(address(instrument), told)
    test = PlayTest.objects.get()
    assert answer.headers["Location"] == reverse("inventory:play-test-result", args=[test.pk])
    assert (test.room_celsius, test.tuning_cents, test.weak_notes) == (Decimal("25.0"), Decimal("-4.0"), ["E4"])
    assert {row["written"]: (row["cents"], row["tries"]) for row in test.measures} == {"C4": (4.0, 3), "G4": (6.0, 1)}
    page = client.get(answer.headers["Location"]).text
    assert "Passed" in page
    assert "25.0 °C" in page


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({}, "Say pass, limits or fail."),
        ({"result": "limits"}, "Say in words what the limits are."),
        ({"result": "fail"}, "Name the notes that failed"),
        ({"result": "pass", "state-C4": "failed"}, "Notes are marked as failed"),
        ({"result": "pass", "measures": "{"}, "could not be read"),
        ({"result": "pass", "measures": '[{"written": "X9", "cents": 1}]'}, "does not fit"),
        ({"result": "pass", "measures": '[{"written": "C4", "cents": 1e999}]'}, "does not fit"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_typed_is_lost(client, instrument, told, says):
    answer = client.post(address(instrument), told | {"tester_plays": "Horn <1>", "cents-G4": "6.5"})
    assert answer.status_code == 422
    assert says in answer.text
    assert "Horn &lt;1&gt;" in answer.text
    assert 'value="6.5"' in answer.text
    assert not PlayTest.objects.exists()


def test_failed_notes_name_suspects_with_a_way_to_them(client, instrument):
    answer = client.post(
        address(instrument), {"result": "fail", "state-B3": "failed", "state-E4": "failed"}, follow=True
    )
    assert "Suspects" in answer.text
    assert f"{reverse('inventory:inspect', args=[instrument.asset_number])}?purpose=spot&amp;part=" in answer.text
    assert "No finding explains" not in answer.text  # nothing was found that could


def test_what_was_not_played_is_kept_and_said(client, instrument):
    told = {"result": "fail", "state-E4": "failed", "state-D4": "untried", "state-C#4": "untried"}
    page = client.post(address(instrument), told, follow=True).text
    tried = PlayTest.objects.get().tried_notes
    assert "E4" in tried
    assert "C4" in tried
    assert not {"D4", "C#4", "F#3"} & set(tried)
    assert "Not played" in page
    assert "C♯4, D4" in page


def test_a_note_that_findings_explain_is_no_surprise_and_another_is(client, school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("third_valve_slide", "slide_seized", "severe")], actor=tech)
    page = client.get(address(instrument)).text
    assert "expected off" in page
    told = {"result": "pass", "cents-C4": "0", "cents-G4": "1", "cents-D4": "30", "cents-E4": "40", "cents-C5": "-1"}
    result = client.post(address(instrument), told, follow=True).text
    assert "E4 is" in result
    assert "D4 is" not in result


def test_a_second_opinion_tells_the_instrument_from_the_player(client, instrument):
    client.post(address(instrument), {"result": "fail", "state-C4": "failed"})
    page = client.post(address(instrument), {"result": "pass", "is_second_opinion": "on"}, follow=True).text
    assert "it is the player, not the instrument" in page


def test_the_page_costs_few_queries(client, instrument, django_assert_max_num_queries):
    with django_assert_max_num_queries(12):
        client.get(address(instrument))


def play(instrument, tech, *, count: int) -> None:
    for number in range(count):
        record_play_test(
            instrument=instrument,
            result="pass",
            measures=[{"written": "C4", "cents": -15.0 * number, "spread": 0, "tries": 1, "spoke": True}],
            actor=tech,
            at=NOW + timedelta(days=180 * number),
        )


def test_the_chart_stands_above_a_table_that_says_the_same(client, tech, instrument):
    play(instrument, tech, count=4)
    client.force_login(tech)
    page = client.get(reverse("inventory:trend", args=[instrument.asset_number])).text
    assert "It drifts" in page
    assert page.count('role="img" aria-label="Pitch in 4 play tests') == 2  # the phone's and the desk's
    assert page.count("<tr>") == 5
    assert page.index("<svg") < page.index("<table")


def test_an_instrument_that_nobody_tested_says_so(client, tech, instrument):
    client.force_login(tech)
    assert "No play tests yet" in client.get(reverse("inventory:trend", args=[instrument.asset_number])).text


def test_an_auditor_reads_the_chart_but_is_led_to_no_test(client, auditor, tech, instrument):
    play(instrument, tech, count=2)
    client.force_login(auditor)
    page = client.get(reverse("inventory:trend", args=[instrument.asset_number])).text
    assert "play-tests/" not in page


def test_twenty_tests_cost_as_many_queries_as_one(client, tech, instrument, django_assert_max_num_queries):
    play(instrument, tech, count=20)
    client.force_login(tech)
    with django_assert_max_num_queries(8):
        client.get(reverse("inventory:trend", args=[instrument.asset_number]))


def test_a_set_of_drums_is_tested_drum_by_drum(client, school, tech):
    timpani = make_ready_instrument(school=school, kind_code="timpani_set")
    page = client.get(address(timpani)).text
    assert [page.count(f'data-note="{drum} inch drum"') for drum in (32, 29, 26, 23)] == [1, 1, 1, 1]
    assert "Start listening" not in page
    told = {"result": "fail", "state-29 inch drum": "failed", "state-23 inch drum": "untried"}
    after = client.post(address(timpani), told, follow=True).text
    test = PlayTest.objects.get()
    assert (test.failed_notes, test.tried_notes) == (
        ["29 inch drum"],
        ["32 inch drum", "29 inch drum", "26 inch drum"],
    )
    assert "29 inch drum" in after
    assert "mouthpiece" not in after.lower()
    timpani.refresh_from_db()
    assert "It failed its play test: 29 inch drum." in {reason["text"] for reason in timpani.readiness_reasons}


def test_of_a_bowed_instrument_each_string_is_played(client, school):
    page = client.get(address(make_ready_instrument(school=school, kind_code="cello"))).text
    assert page.count('data-note="highest string"') == page.count('data-note="lowest string"') == 1
    assert "How far to play" not in page


@pytest.mark.parametrize(
    ("kind_code", "finding", "is_offered"),
    [
        ("trumpet", ("mouthpiece", "missing_part", "severe"), False),
        ("trumpet", ("piston", "valve_stuck", "severe", "2"), True),
        ("snare_kit", ("batter_head", "head_worn", "severe"), False),
        ("timpani_set", ("head", "head_worn", "severe", "32"), True),
    ],
)
def test_what_cannot_sound_is_not_tested_and_the_page_says_why(  # noqa: PLR0917  # fixtures and the case's figures
    client, school, tech, kind_code, finding, is_offered
):
    instrument = make_instrument(school=school, kind_code=kind_code)
    walk = make_inspection(instrument=instrument, findings=[finding], actor=tech)
    page = client.get(address(instrument)).text
    assert ("Save play test" in page) is is_offered
    assert ("It cannot sound" in page) is not is_offered
    listed = client.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    walked = client.get(reverse("inventory:walk", args=[walk.pk])).text
    assert (address(instrument) in listed) is (address(instrument) in walked) is is_offered
    assert [("No play test until it can make a sound." in shown) for shown in (listed, walked)] == [not is_offered] * 2


def test_notes_that_spoke_are_held_against_a_finding_though_nobody_measured(client, school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2")], actor=tech)
    page = client.post(address(instrument), {"result": "pass", "level": "first_year"}, follow=True).text
    assert "spoke, although a finding says otherwise" in page


def test_notes_that_no_finding_explains_are_told_beside_those_that_one_does(client, school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2")], actor=tech)
    told = {"result": "fail", "state-G4": "failed", "state-B3": "failed"}
    page = client.post(address(instrument), told, follow=True).text
    assert "No finding explains why G4 failed" in page
    assert "Cents for each note" not in page  # nobody measured any


def test_a_cracked_oboe_that_passes_says_that_it_must_not_go_out(client, school, tech):
    oboe = make_instrument(school=school, kind_code="oboe")
    make_inspection(instrument=oboe, findings=[("body", "body_crack", "severe")], actor=tech)
    page = client.post(address(oboe), {"result": "pass", "level": "first_year"}, follow=True).text
    assert "It plays, but must not go out before this is repaired" in page
    assert "A crack runs on" in page
    oboe.refresh_from_db()
    assert (oboe.verdict, oboe.readiness) == ("plays_with_limits", "stays_in")
