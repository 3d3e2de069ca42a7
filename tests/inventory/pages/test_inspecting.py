from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.catalog.load import catalog
from inventory.models import Inspection, Instrument, Purpose
from inventory.pages.inspecting import details_of, fault_choices, purposes_for, walk_page
from inventory.rules.verdict import EffectGroup
from inventory.selectors.inspecting import newest_hand_out
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    look_at_part,
    look_at_rest,
    record_finding,
    start_inspection,
)
from inventory.services.state import move_instrument
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument


def read(draft: Inspection) -> Inspection:
    return Inspection.objects.select_related("instrument", "compared_with").get(pk=draft.pk)


def test_the_walk_leads_from_safety_over_the_parts_to_the_end(draft, instrument, tech):
    assert walk_page(read(draft))["at"] == "@safety"
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    first, second = instrument.parts[0].code, instrument.parts[1].code
    assert walk_page(read(draft))["at"] == first
    look_at_part(inspection=draft, part=first, actor=tech, at=NOW)
    assert walk_page(read(draft))["at"] == second
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    assert walk_page(read(draft))["at"] == "@accessories"
    count_accessories(instrument=instrument, counts={"case": 1}, actor=tech, at=NOW, inspection=draft)
    assert walk_page(read(draft))["at"] == "@finish"


def test_stops_follow_the_air_path_with_state_findings_and_marks(draft, instrument, tech):
    record_finding(
        inspection=draft,
        part="piston",
        fault="valve_stuck",
        severity="severe",
        place="2",
        detail="up",
        actor=tech,
        at=NOW,
    )
    look_at_part(inspection=draft, part="bell", actor=tech, at=NOW)
    page = walk_page(read(draft))
    assert [stop["code"] for stop in page["stops"]] == [part.code for part in instrument.parts]
    states = {stop["code"]: stop["state"] for stop in page["stops"]}
    assert (states["piston"], states["bell"], states["leadpipe"]) == ("wrong", "fine", "unseen")
    assert page["seen"] == 2
    assert page["wrong"][0]["found"][0]["words"] == "valve 2: stuck piston, up"
    assert page["marks"]["piston"].group is EffectGroup.LIMITS


def test_what_was_known_stands_beside_each_part(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
    page = walk_page(read(draft))
    assert page["before_label"] == "Known so far"
    assert {stop["code"] for stop in page["stops"] if stop["before"]} == {"bell"}


def test_a_return_is_shown_beside_its_hand_out(instrument, tech):
    out = make_inspection(
        instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech, purpose=Purpose.HAND_OUT
    )
    assert newest_hand_out(instrument) == out
    draft = start_inspection(instrument=instrument, purpose=Purpose.RETURN, actor=tech, at=NOW, compared_with=out)
    page = walk_page(read(draft))
    assert page["before_label"] == "At hand-out"
    assert next(stop for stop in page["stops"] if stop["code"] == "bell")["before"][0]["fault"] == "dent_small"


@pytest.mark.parametrize("kind", catalog().kinds.values(), ids=lambda kind: kind.code)
def test_every_part_offers_only_faults_it_can_have_with_words_for_each_severity(kind):
    for part in kind.parts:
        choices = fault_choices(part)
        assert [choice["code"] for choice in choices] == list(catalog().faults_offered(part))
        for choice in choices:
            assert [severity for severity, _, _ in choice["severities"]] == ["light", "moderate", "severe"]
            assert choice["code"] == "missing_part" or all(words for _, _, words in choice["severities"])


@pytest.mark.parametrize(
    ("role", "fault", "first"),
    [
        ("piston", "valve_stuck", "up"),
        ("rotor", "rotor_seized", "up"),
        ("casing", "valve_stuck", "up"),
        ("tuning_slide", "slide_seized", ""),
        ("valve_slide", "slide_seized", ""),
        ("hand_slide_inner", "slide_seized", "position 1"),
        ("hand_slide_inner", "dent_slide_leg", "position 1"),
        ("hand_slide_outer", "dent_slide_leg", "position 1"),
    ],
)
def test_where_a_part_stands_is_asked_where_it_makes_a_difference(role, fault, first):
    trade = catalog()
    assert details_of(trade.faults[fault], role=trade.roles[role])[0][0] == first


@pytest.mark.parametrize(("role", "fault"), [("valve_slide", "dent_slide_leg"), ("piston", "valve_sluggish")])
def test_where_a_part_stands_is_not_asked_elsewhere(role, fault):
    trade = catalog()
    assert details_of(trade.faults[fault], role=trade.roles[role]) == ()


def test_only_walks_that_make_sense_are_offered(school, tech):
    new = make_instrument(school=school)
    assert [choice["purpose"] for choice in purposes_for(new)] == ["intake"]
    ready = make_ready_instrument(school=school)
    assert [choice["purpose"] for choice in purposes_for(ready)] == ["spot", "yearly", "hand_out"]
    move_instrument(instrument=ready, expected="in_store", to="on_bench", actor=tech, at=NOW)
    assert purposes_for(Instrument.objects.get(pk=ready.pk))[0]["purpose"] == "bench"


def test_a_walk_that_was_begun_is_offered_first(school, tech):
    ready = make_ready_instrument(school=school)
    start_inspection(instrument=ready, purpose=Purpose.YEARLY, actor=tech, at=NOW)
    first = purposes_for(ready)[0]
    assert (first["purpose"], first["is_begun"]) == ("yearly", True)


@pytest.mark.parametrize(
    ("purpose", "ends_early"), [("spot", True), ("bench", True), ("intake", False), ("yearly", False)]
)
def test_a_walk_over_some_parts_offers_its_end_at_each(client, tech, instrument, purpose, ends_early):
    client.force_login(tech)
    draft = start_inspection(instrument=instrument, purpose=purpose, actor=tech, at=NOW, is_safe=True)
    page = client.get(reverse("inventory:walk", args=[draft.pk])).text
    assert ("Finish here" in page) is ends_early
