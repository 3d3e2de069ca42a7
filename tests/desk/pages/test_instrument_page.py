"""What the instrument page gathers: state, reasons with what clears them, findings as drawn, the act one came for."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.urls import reverse

from core.photos import clean_photo
from desk.pages.instrument_page import clearing, first_repairs, instrument_page
from desk.selectors.instrument_record import instrument_record
from inventory.access import has_perm_at_school
from inventory.models import Instrument
from inventory.rules.verdict import EffectGroup
from inventory.services.care import keep_photo, record_play_test, report_problem, require_hygiene
from inventory.services.inspecting import count_accessories
from repairs.services.jobs import open_job
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
)
from tests.loans.makers import make_loan
from tests.pictures import jpeg


def fresh(instrument):
    return Instrument.objects.select_related("school", "room").get(pk=instrument.pk)


def page_of(instrument, user, *, today=TODAY):
    record = instrument_record(fresh(instrument), user=user, today=today)
    return instrument_page(record, reader=user, may=partial(has_perm_at_school, user, school_id=instrument.school_id))


@pytest.fixture
def stuck(school):
    instrument = make_instrument(school=school)
    make_inspection(
        instrument=instrument,
        findings=[("third_valve_slide", "slide_seized", "severe"), ("bell_bow", "dent_small", "light")],
    )
    return instrument


def main_act(page):
    return next((act.label for act in page["acts"] if act.main), None)


def test_a_ready_instrument_is_there_to_be_lent(school, director):
    page = page_of(make_ready_instrument(school=school), director)
    assert page["readiness"] == "may_go_out"
    assert (page["reasons"], page["findings"], main_act(page)) == ([], [], "Lend")


def test_a_photo_says_its_station_and_is_reached_from_station_and_finding(stuck, director):
    kept = {part: keep_photo(instrument=stuck, photo=clean_photo(jpeg()), part=part, actor=director, at=NOW)
            for part in ("third_valve_slide", "mouthpiece_receiver", "")}  # fmt: skip
    page = page_of(stuck, director)
    walk = [part.code for part in stuck.kind.parts]
    stations = {one.photo.part: (one.number, one.part) for one in page["photos"]}
    slide = walk.index("third_valve_slide") + 1
    assert stations["third_valve_slide"] == (slide, stuck.kind.part("third_valve_slide").name)
    assert stations[""] == (0, "")
    assert page["links"]["third_valve_slide"] == f"#finding-{slide}"
    assert page["links"]["mouthpiece_receiver"] == f"#photo-{kept['mouthpiece_receiver'].pk}"
    assert {line["part"]: line["photos"] for line in page["findings"]} == {
        "third_valve_slide": [kept["third_valve_slide"]], "bell_bow": [],
    }  # fmt: skip


def test_findings_stand_in_their_groups_with_number_and_sentence(stuck, director):
    page = page_of(stuck, director)
    groups = {code: shown for code, _, shown, _ in page["groups"]}
    assert ([folded for *_, folded in page["groups"]], page["is_long"]) == ([[], []], False)
    assert [line["part"] for line in groups["looks"]] == ["bell_bow"]
    seized = groups["limits"][0]
    assert seized["part"] == "third_valve_slide"
    assert seized["sentence"]
    assert seized["number"] == [part.code for part in stuck.parts].index("third_valve_slide") + 1


def test_who_it_suits_is_not_told_of_what_failed_its_play_test(school, director, tech):
    timpani = make_ready_instrument(school=school, kind_code="timpani_set")
    assert page_of(timpani, director)["fits"]
    record_play_test(instrument=timpani, result="fail", failed_notes=["29 inch drum"], actor=tech, at=NOW)
    assert not page_of(timpani, director)["fits"]


@pytest.mark.parametrize(("findings", "is_told"), [([], True), ([("leadpipe", "foreign_object", "severe")], False)])
def test_who_it_suits_is_told_of_what_plays(school, director, findings, is_told):
    instrument = make_instrument(school=school)
    make_inspection(
        instrument=instrument, findings=[("main_tuning_slide", "slide_seized", "severe", "", "pulled 0 mm"), *findings]
    )
    page = page_of(instrument, director)
    assert (bool(page["fits"]), bool(page["everybody"])) == (is_told, is_told)


NEGLECTED = [
    ("finish", "lacquer_wear", "moderate"),
    ("mouthpiece", "lime_scale", "light"),
    ("main_tuning_slide", "slide_seized", "severe"),
    ("bell_bow", "dent_small", "light"),
    ("bell_bow", "crease", "light"),
]


@pytest.mark.parametrize(("count", "shown", "folded", "is_long"), [(4, 4, 0, False), (5, 2, 3, True)])
def test_of_many_findings_the_worst_are_shown_and_the_rest_is_folded(school, count, shown, folded, is_long):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=NEGLECTED[:count])
    page = page_of(instrument, make_director(school))
    assert sum(len(lines) for _, _, lines, _ in page["groups"]) == shown
    assert sum(len(lines) for *_, lines in page["groups"]) == folded
    assert page["is_long"] is is_long
    anchors = [line["anchor"] for line in page["findings"]]
    assert len(set(anchors)) == len(anchors) == count
    assert set(page["links"].values()) <= {f"#{anchor}" for anchor in anchors}


@pytest.mark.parametrize(("count", "texts"), [(3, ["a0", "a1", "a2"]), (4, ["a0", "a1", "And 2 more, below."])])
def test_of_many_reasons_that_a_repair_clears_the_first_are_told(count, texts):
    cleaning = {"text": "unclean", "clears": "clean"}
    repairs = [{"text": f"a{number}", "clears": "repair"} for number in range(count)]
    assert [reason["text"] for reason in first_repairs([*repairs, cleaning])] == [*texts, "unclean"]


def test_the_drawing_is_marked_and_leads_to_the_finding(stuck, director):
    page = page_of(stuck, director)
    assert page["marks"]["third_valve_slide"].group is EffectGroup.LIMITS
    assert page["links"]["third_valve_slide"] == "#finding-{}".format(page["groups"][0][2][0]["number"])


def test_a_part_carries_the_mark_of_its_worst_finding(school, director):
    instrument = make_instrument(school=school)
    dented = ("third_valve_slide", "dent_small", "light")
    make_inspection(instrument=instrument, findings=[dented])
    assert page_of(instrument, director)["marks"]["third_valve_slide"].group is EffectGroup.LOOKS
    seized = ("third_valve_slide", "slide_seized", "severe")
    make_inspection(instrument=instrument, findings=[dented, seized], at=NOW + timedelta(days=1))
    assert page_of(instrument, director)["marks"]["third_valve_slide"].group is EffectGroup.LIMITS


def test_nobody_inspected_it_so_inspecting_comes_first(school, director):
    page = page_of(make_instrument(school=school), director)
    assert main_act(page) == "Inspect"
    assert page["reasons"][0]["action"] == "Inspect it"


def test_an_inspection_that_aged_out_makes_it_stay_in(school, director):
    instrument = make_ready_instrument(school=school)
    on_the_day = page_of(instrument, director, today=instrument.ready_until)
    after = page_of(instrument, director, today=instrument.ready_until + timedelta(days=1))
    assert (on_the_day["readiness"], after["readiness"]) == ("may_go_out", "stays_in")
    assert after["reasons"][0]["action"] == "Inspect it"
    assert main_act(after) != "Lend"


def test_out_with_a_student_the_director_takes_it_back(school, director):
    page = page_of(make_loan(school=school, actor=director).instrument, director)
    assert main_act(page) == "Take back"


def test_on_the_bench_the_tech_goes_to_the_next_step(stuck, school, tech):
    job = open_job(instrument=fresh(stuck), bench=make_bench(school=school), actor=tech, at=NOW)
    page = page_of(stuck, tech)
    assert (main_act(page), page["acts"][-1].url) == ("Next step", reverse("repairs:job", args=[job.pk]))


def test_an_unclean_instrument_is_to_be_cleaned(school, tech):
    instrument = make_ready_instrument(school=school)
    require_hygiene(instrument=instrument, actor=tech, at=NOW)
    page = page_of(instrument, tech)
    assert main_act(page) == "Clean it"
    assert page["readiness"] == "stays_in"


def test_red_is_kept_for_what_is_unsafe_or_makes_no_sound(stuck, school, tech):
    unclean, sharp = make_ready_instrument(school=school), make_ready_instrument(school=school)
    require_hygiene(instrument=unclean, actor=tech, at=NOW)
    make_inspection(instrument=sharp, findings=[("bell", "crease", "severe")], at=NOW + timedelta(hours=1))
    assert [page_of(one, tech)["stops"] for one in (unclean, stuck, sharp)] == [False, False, True]


def test_an_auditor_is_offered_nothing_to_do(school, auditor):
    assert page_of(make_ready_instrument(school=school), auditor)["acts"] == []


def test_every_reason_leads_to_what_clears_it(school, director, tech):
    instrument = make_ready_instrument(school=school)
    report_problem(instrument=instrument, text="A valve sticks.", actor=tech, at=NOW)
    require_hygiene(instrument=instrument, actor=tech, at=NOW)
    essential = instrument.accessories.filter(is_essential=True).first()
    count_accessories(instrument=instrument, counts={essential.code: 0}, actor=tech, at=NOW)
    page = page_of(instrument, director)
    assert len(page["reasons"]) >= 3
    assert all(reason["url"] and reason["action"] for reason in page["reasons"])
    assert page["short_accessories"] == 1


def test_nobody_is_led_where_they_may_not_go(school, auditor, director, tech):
    instrument = make_loan(school=school, actor=director).instrument
    report_problem(instrument=instrument, text="A valve sticks.", actor=tech, at=NOW)
    read = {user.username: page_of(instrument, user) for user in (auditor, director, tech)}
    led = {name: [*([page["away"]] if page["away"] else ()), *page["reasons"]] for name, page in read.items()}
    actions = {name: [line["action"] for line in lines if line["url"]] for name, lines in led.items()}
    assert actions == {"auditor": [], "director": ["Take it back", "Read the report"], "tech": ["Read the report"]}
    assert {name: page["may_count"] for name, page in read.items()} == {
        "auditor": False,
        "director": True,
        "tech": True,
    }


def test_a_reason_nobody_knows_leads_nowhere(school, director):
    record = instrument_record(make_instrument(school=school), user=director, today=TODAY)
    assert clearing("never_heard_of", record, may=lambda _permission: True) == ("", "")


def test_an_instrument_never_tested_leads_to_its_play_test(school, tech, auditor):
    for instrument in (make_ready_instrument(school=school), make_instrument(school=school)):
        url = reverse("inventory:play-test", args=[instrument.asset_number])
        assert url in [act.url for act in page_of(instrument, tech)["acts"]]
        assert url not in [act.url for act in page_of(instrument, auditor)["acts"]]
