"""The log as sentences."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import translation

from core.models import Event
from desk.pages.history import SENTENCES, detail, folded, lines_of, moment_of, sentence
from desk.selectors.history import latest_events
from inventory.catalog.load import catalog
from inventory.models import Instrument
from inventory.services.care import record_play_test
from tests.factories import NOW, make_inspection, make_instrument
from tests.loans.makers import make_loan


def an_event(act, /, **after):
    return Event(act=act, after=after, at=NOW)


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (an_event("registered"), "Registered"),
        (an_event("moved", whereabouts="with_student"), "Moved: with a student"),
        (an_event("inspected", purpose="hand_out", findings=0), "Inspected (hand-out), nothing found"),
        (an_event("inspected", purpose="yearly", findings=1), "Inspected (yearly), 1 finding"),
        (an_event("inspected", purpose="return", findings=3), "Inspected (return), 3 findings"),
        (an_event("play_tested", result="pass"), "Passed its play test"),
        (an_event("play_tested", result="limits"), "Passed its play test, with limits"),
        (an_event("play_tested", result="fail"), "Failed its play test"),
        (an_event("corrected", year_made=1980, maker="Vale"), "Corrected: maker, year made"),
        (
            an_event("corrected", typed={"serial": "0", "notes": "0"}, level="student"),
            "Corrected: serial, level, notes",
        ),
        (an_event("text_redacted", typed={"notes": "0"}), "A name taken out: notes"),
        (an_event("entered_in_error", act="corrected"), "Marked as entered in error: corrected"),
        (an_event("entered_in_error", act="lent"), "Marked as entered in error: lent"),
        (an_event("opening"), "Put on record as it was"),
        (an_event("corrected"), "Corrected: notes"),
        (
            an_event("cautions_acknowledged", shown=[{"hazard": "heat", "name": "Heat"}, {"name": "Fumes"}]),
            "Cautions read: heat, fumes",
        ),
        (an_event("cautions_acknowledged"), "Cautions confirmed for the whole job, not one by one"),
        (an_event("cleaned"), "Cleaned between players"),
        (
            an_event("cleaned", done=["hygiene"], product="peroxide", wet_minutes=10),
            "Cleaned between players, hydrogen peroxide, 3%, wet for 10 min",
        ),
        (an_event("cleaned", done=["full_cleaning"]), "Cleaned, all of it"),
        (
            an_event("cleaned", done=["full_cleaning"], on="2026-08-20"),
            "Cleaned, all of it, on Aug 20, 2026, before it was registered",
        ),
        (an_event("cleaned", product="soap"), "Washed, not all of it yet, soap and water alone"),
        (an_event("care_done", care="bath"), "Care: Bathe it"),
        (an_event("care_done", care="no_such_care"), "Care done"),
        (an_event("tag_issued"), "Tag issued"),
        (an_event("part_taken", onto="TD-0002"), "Part removed for TD-0002"),
        (an_event("part_put_on"), "Part installed from another instrument"),
        (an_event("part_fit_noted", part="bell", fit="does_not"), "The part does not fit"),
        (an_event("part_fit_noted", fit="fits", onto="TD-0002"), "The part fits TD-0002"),
        (an_event("part_fit_noted", fit="fits", off="TD-0001"), "The part from TD-0001 fits"),
        (an_event("part_back_on", onto="TD-0002"), "Part back, it did not fit TD-0002"),
        (an_event("part_on_shelf", onto="TD-0002"), "Part in stock, it did not fit TD-0002"),
        (an_event("part_off_again", off="TD-0001"), "Part from TD-0001 taken off again, it did not fit"),
        (an_event("part_slip", onto="TD-0002"), "No part removed for TD-0002 after all"),
        (an_event("part_slip", off="TD-0001"), "No part installed from TD-0001 after all"),
        (an_event("findings_closed", because="repaired"), "Repaired"),
        (an_event("findings_closed", because="put_back"), "A part is back on"),
        (an_event("findings_closed", because="withdrawn"), "Finding entered by mistake"),
        (an_event("invoice_noted", amount="95.00"), "Shop's bill: $95"),
        (an_event("worth_decided", answer="keep_for_parts"), "Decided: keep for parts"),
        (an_event("never_heard_of"), "Never heard of"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.act,
)
def test_each_act_is_a_sentence(event, words):
    assert sentence(event) == words


def test_a_failed_play_test_names_its_notes():
    assert detail(an_event("play_tested", result="fail", failed_notes=["C4", "D4"])) == "Lost: C4, D4"


@pytest.mark.parametrize(
    ("spent", "words"),
    [
        ({"minutes": 42, "amount": "0"}, "42 min, $0"),
        ({"minutes": 42, "amount": "12.50"}, "42 min, $12.50"),
        ({"minutes": 0, "amount": "180.00"}, "$180"),
        ({"minutes": 0, "amount": "0.00"}, ""),
        ({}, ""),
    ],
)
def test_a_closed_job_says_what_it_took_a_shop_paid_alone_too(spent, words):
    assert detail(an_event("job_closed", **spent)) == words


def test_a_bench_step_says_what_was_done():
    assert detail(an_event("step_done", say="Free the slide: freed")) == "Free the slide: freed"
    assert detail(an_event("step_done", method="slide_pull", outcome="still_stuck")) == "slide pull: still stuck"


def test_a_bench_step_is_named_in_the_readers_language_where_the_catalog_has_it():
    said = {"say": "Test for leaks: done", "step": "leak_test", "outcome": "done"}
    way = {"say": "Valve oil: still stuck", "step": "free_piston:piston:2:valve_oil", "outcome": "still_stuck"}
    lost = {"say": "Sing to it: done", "step": "sing", "outcome": "done"}
    with translation.override("es"):
        assert detail(an_event("step_done", **said)) == f"{catalog().methods['leak_test'].name}: hecho"
        assert detail(an_event("step_done", **way)).endswith(": sigue atascado")
        assert detail(an_event("step_done", **lost)) == "Sing to it: done"
    assert detail(an_event("step_done", **said)) == "Test for leaks: done"
    foreign = said | {"say": "Prueba de fugas: hecho"}  # as older entries of people who read Spanish stand
    assert detail(an_event("step_done", **foreign)) == f"{catalog().methods['leak_test'].name}: done"
    with_part = said | {"say": f"piston, valve 2, {catalog().methods['leak_test'].name}: done"}
    assert detail(an_event("step_done", **with_part)) == with_part["say"]


def test_a_part_that_went_from_one_to_another_is_named():
    assert detail(an_event("part_taken", parts=["piston 1"], named="pistons, 3 as a set")) == "Pistons, 3 as a set"
    assert detail(an_event("part_put_on", parts=["main_tuning_slide", "bell"])) == "Main tuning slide, bell"
    assert detail(an_event("part_fit_noted", part="bell", fit="fits")) == "Bell"


def test_the_same_act_many_times_in_a_minute_is_shown_once_with_how_often():
    changed = [Event(act="registered", at=NOW.replace(second=second), thread="1") for second in (1, 20, 40)]
    lent = [Event(act="lent", at=NOW, thread=thread) for thread in ("1", "2")]
    lines = folded(lines_of([*changed, *lent], numbers={"1": "CF-0001", "2": "CF-0002"}))
    assert [(line["what"], line["times"]) for line in lines] == [("Registered", 3), ("Lent", 1), ("Lent", 1)]


def test_what_one_person_did_in_one_minute_shares_a_moment():
    first = Event(act="inspected", at=NOW.replace(second=1), actor_id=1)
    assert moment_of(first) == moment_of(Event(act="lent", at=NOW.replace(second=40), actor_id=1))
    assert moment_of(first) != moment_of(Event(act="lent", at=NOW, actor_id=2))


def test_the_newest_comes_first_with_who_did_it(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, actor=tech)
    record_play_test(instrument=instrument, result="pass", actor=tech, at=NOW + timedelta(hours=1))
    lines = lines_of(latest_events(instrument))
    assert lines[0]["what"] == "Passed its play test"
    assert lines[0]["who"] == "Terry Tech"
    assert lines[-1]["what"] == "Registered"


def test_every_act_of_a_loan_has_its_sentence(director, django_assert_num_queries):
    """What the services write today, the page can say: no act falls back to its code."""
    loan = make_loan(actor=director)
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    acts = set(Event.objects.filter(thread=instrument.thread).values_list("act", flat=True))
    assert acts - set(SENTENCES) == set()
    with django_assert_num_queries(1):
        lines_of(latest_events(instrument))


def acts_told_by(module: ast.Module) -> Iterator[str]:
    """Acts that a module of services tells in an instrument's thread, by log_event or by what calls it."""
    tells_on = any(
        isinstance(node, ast.FunctionDef)
        and node.name == "_log"
        and any(isinstance(call, ast.Call) and ast.unparse(call.func) == "log_event" for call in ast.walk(node))
        for node in module.body
    )
    for call in ast.walk(module):
        if not isinstance(call, ast.Call) or not isinstance(call.func, ast.Name):
            continue
        told: list[ast.expr] = []
        if call.func.id in {"log_event", "log_order", "change_order"}:
            told = [keyword.value for keyword in call.keywords if keyword.arg == "act"]
        elif call.func.id == "_log" and tells_on:
            told = call.args[1:2]
        for expression in told:
            yield from (
                node.value
                for node in ast.walk(expression)
                if isinstance(node, ast.Constant) and isinstance(node.value, str)
            )


def test_every_act_that_services_write_of_an_instrument_has_its_sentence():
    root = Path(settings.BASE_DIR)
    acts = {
        act
        for app in ("inventory", "repairs", "loans")
        for path in (root / app / "services").rglob("*.py")
        for act in acts_told_by(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert len(acts) > 30
    assert {"shop_asked", "sent_to_shop", "invoice_noted"} < acts
    assert acts - set(SENTENCES) == set()


def test_history_holds_no_name_of_a_student(director):
    loan = make_loan(actor=director)
    told = " ".join(f"{line['what']} {line['detail']}" for line in lines_of(latest_events(loan.instrument)))
    assert loan.student.name not in told
