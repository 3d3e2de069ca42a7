from __future__ import annotations

from dataclasses import replace

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from inventory.rules.playing import LEVELS
from inventory.rules.standing import Standing, standing

TUBA = catalog().kinds["tuba"]
FOURTH = FindingFact(part="fourth_valve_slide", fault="slide_seized", severity=Severity.SEVERE)
PISTON_4 = FindingFact(part="piston", fault="valve_stuck", severity=Severity.SEVERE, place="4", detail="down")
FINISH = FindingFact(part="finish", fault="lacquer_wear", severity=Severity.LIGHT)


def tuba(*findings: FindingFact, valves: str = "4") -> Standing:
    options = {"valves": valves, "key": "BBb"}
    return standing(catalog=catalog(), kind=TUBA, options=options, chart=chart_of(TUBA, options), findings=findings)


def test_a_finding_counts_only_on_a_part_that_the_instrument_has():
    four, three = tuba(FOURTH, PISTON_4, FINISH), tuba(FOURTH, PISTON_4, FINISH, valves="3")
    assert (four.findings, four.gone) == ((FOURTH, PISTON_4, FINISH), ())
    assert (three.findings, three.gone) == ((FINISH,), (FOURTH, PISTON_4))
    assert four.judgement.verdict != "plays"
    assert three.judgement.verdict == "plays"


def test_a_finding_on_a_part_that_is_gone_stays_readable_and_says_so():
    effects = tuba(FOURTH, PISTON_4, FINISH, valves="3").judgement.effects
    assert [effect.finding for effect in effects] == [FINISH, FOURTH, PISTON_4]
    assert {effect.group for effect in effects} == {"looks"}
    fourth, piston = (effect.sentence for effect in effects[1:])
    assert fourth.startswith("Fourth valve slide, ")
    assert "valve 4" in piston
    for sentence in (fourth, piston):
        assert sentence.endswith(": on a part this instrument no longer has.")


def test_a_part_that_the_catalog_has_lost_is_named_by_its_code():
    lost = FindingFact(part="water_whistle", fault="dent_small", severity=Severity.LIGHT)
    (effect,) = tuba(lost).judgement.effects
    assert effect.sentence.startswith("Water whistle, ")


def test_every_stated_level_has_a_report_and_the_widest_has_most_notes():
    one = tuba()
    assert list(one.reports) == [level for level in LEVELS if level in TUBA.levels]
    assert one.widest_report.notes == max((one.at(level).report.notes for level in LEVELS), key=len)


def test_a_level_is_judged_once():
    one = tuba(FOURTH)
    assert one.at("concert") is one.at("concert")
    assert one.judgement is one.at("first_year")


def test_equal_facts_are_equal_and_hash_alike():
    assert tuba(FOURTH) == tuba(FOURTH)
    assert hash(tuba(FOURTH)) == hash(tuba(FOURTH))
    assert tuba(FOURTH) != tuba(FOURTH, valves="3")


def test_a_lost_kind_has_no_parts_and_no_notes():
    lost = standing(
        catalog=catalog(), kind=catalog().kind("horn_alto"), options={"key": "F"}, chart=None, findings=[FINISH]
    )
    assert not lost.is_known
    assert lost.gone == (FINISH,)
    assert lost.reports == {}
    assert lost.widest_report.notes == ()
    assert "Horn alto" in lost.kind.name


def test_what_was_judged_is_no_part_of_the_value_and_never_carried_over():
    judged, fresh = tuba(FOURTH), tuba(FOURTH)
    assert judged.judgement.verdict == "plays_with_limits"
    assert judged == fresh
    assert repr(judged) == repr(fresh)
    assert replace(judged, findings=()).judgement.verdict == "plays"


def test_notes_are_written_in_the_clef_of_the_chart_or_else_of_the_kind():
    kind, options = catalog().kinds["euphonium"], {"clef": "treble"}
    chart = chart_of(kind, options)
    treble = standing(catalog=catalog(), kind=kind, options=options, chart=chart, findings=())
    assert (kind.clef, treble.clef, tuba().clef) == ("bass", "treble", "bass")
