from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.catalog.load import catalog
from inventory.forms.register import REASONS
from inventory.models import District, Instrument, Readiness, School, Verdict, Whereabouts
from inventory.rules.facts import Owed
from inventory.rules.readiness import ReadinessFacts, aged_reason, readiness
from inventory.selectors import register
from inventory.selectors.register import (
    AGED,
    Wanted,
    in_state,
    kinds_in_use,
    kinds_like,
    kinds_named,
    known_makers,
    narrowed,
    proposed_number,
    register_of,
)
from inventory.services.registering import next_asset_number
from inventory.tables import InstrumentTable
from tests.factories import NOW, TODAY, make_district, make_instrument, make_ready_instrument, make_room, make_school


def numbers(rows):
    return sorted(rows.values_list("asset_number", flat=True))


@pytest.mark.parametrize(
    ("typed", "first"),
    [("tpt", "trumpet"), ("euph", "euphonium"), ("bass clar", "clarinet_bass"), ("trumpets", "trumpet")],
)
def test_the_likeliest_kind_of_what_is_typed_comes_first(typed, first):
    assert kinds_like(typed)[0].code == first


@pytest.mark.parametrize("typed", ["", "   ", "zzz", "<script>", "\u202e", "x" * 10_000])
def test_words_that_are_no_kind_give_none(typed):
    assert kinds_like(typed) == []


def test_every_kind_is_found_by_its_own_name():
    assert [kind.name for kind in catalog().kinds.values() if kind not in kinds_like(kind.name)] == []


def test_a_word_inside_a_name_finds_every_kind_that_has_it():
    assert {"clarinet_bb", "clarinet_bass", "clarinet_eb"} <= set(kinds_named("clarinet"))


@pytest.mark.django_db
def test_search_takes_every_word_from_any_column(school):
    room = make_room(school=school, name="Theater loft")
    ours = make_instrument(school=school, kind_code="euphonium", maker="Union", serial="A 71", room=room)
    make_instrument(school=school, kind_code="trumpet", maker="Union", serial="B 72")
    for words in ("union euph", "a 71", "loft union", ours.asset_number.lower()):
        assert numbers(narrowed(Instrument.objects.all(), Wanted(q=words))) == [ours.asset_number], words
    assert numbers(narrowed(Instrument.objects.all(), Wanted(q="union flute"))) == []


@pytest.mark.django_db
def test_search_knows_places_in_rooms_and_takes_a_number_with_the_word_before_it(school):
    near = make_instrument(school=school, kind_code="tuba", place="Shelf 3, locker 112", serial="A1")
    far = make_instrument(school=school, kind_code="trumpet", place="Shelf 31", serial="A3")
    make_instrument(school=school, kind_code="tuba", place="Cabinet B", serial="B3")
    expected = {
        "shelf": [near, far],
        "shelf 3": [near],
        "SHELF 31": [far],
        "tuba shelf": [near],
        "shelf 3 trumpet": [],
        "locker 112 tuba": [near],
    }
    for typed, rows in expected.items():
        found = numbers(narrowed(Instrument.objects.all(), Wanted(q=typed)))
        assert found == sorted(row.asset_number for row in rows), typed


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["%", "_", "'", '"; drop table', "\u202e", "\\"])
def test_search_takes_strange_signs_as_text(typed, school):
    make_instrument(school=school, maker="Plain", serial="1")
    assert numbers(narrowed(Instrument.objects.all(), Wanted(q=typed))) == []


@pytest.mark.django_db
def test_what_is_gone_is_listed_only_when_asked_for(school):
    here, gone = make_instrument(school=school), make_instrument(school=school)
    Instrument.objects.filter(pk=gone.pk).update(whereabouts=Whereabouts.GONE)
    rows = Instrument.objects.all()
    assert numbers(in_state(rows, Wanted(), today=TODAY)) == [here.asset_number]
    assert numbers(in_state(rows, Wanted(whereabouts=Whereabouts.GONE), today=TODAY)) == [gone.asset_number]


@pytest.mark.django_db
def test_readiness_is_as_of_today(school):
    ready, bare = make_ready_instrument(school=school), make_instrument(school=school)
    later = ready.ready_until + timedelta(days=1)
    rows = Instrument.objects.all()
    both = sorted([ready.asset_number, bare.asset_number])
    for wanted in ("ready", Readiness.MAY_GO_OUT):
        assert numbers(in_state(rows, Wanted(readiness=wanted), today=TODAY)) == [ready.asset_number]
        assert numbers(in_state(rows, Wanted(readiness=wanted), today=later)) == []
    assert numbers(in_state(rows, Wanted(readiness=Readiness.STAYS_IN), today=TODAY)) == [bare.asset_number]
    assert numbers(in_state(rows, Wanted(readiness=Readiness.STAYS_IN), today=later)) == both


@pytest.mark.django_db
@pytest.mark.parametrize("where", [{}, {"kind": "trumpet"}, {"q": "trumpet"}, {"room": True}], ids=str)
def test_sums_agree_with_the_lists_they_lead_to(school, director, where):
    room = make_room(school=school)
    where = {name: room.pk if name == "room" else value for name, value in where.items()}
    make_ready_instrument(school=school, room=room)
    make_instrument(school=school, room=room)
    gone = make_instrument(school=school, room=room)
    Instrument.objects.filter(pk=gone.pk).update(whereabouts=Whereabouts.GONE)

    def found(**wanted):
        return register_of(director, Wanted(**where, **wanted), today=TODAY)

    held, stays_in = found(), Wanted(readiness=Readiness.STAYS_IN)
    assert held.count(Wanted()) == 2
    assert found(whereabouts=Whereabouts.GONE).count(Wanted(whereabouts=Whereabouts.GONE)) == 1
    for wanted in ({"readiness": "ready"}, {"readiness": Readiness.STAYS_IN}, {"verdict": Verdict.NOT_INSPECTED}):
        register = found(**wanted)
        assert register.count(Wanted(**wanted)) == register.rows.count() == 1, wanted
        assert register.count(stays_in) == held.count(stays_in), "the sums are of all that fits the words"

    def counted(**wanted):
        of_list = in_state(Instrument.objects.all(), Wanted(**wanted), today=TODAY).count()
        assert held.count(Wanted(**wanted)) == of_list
        return of_list

    assert counted(readiness=Readiness.MAY_GO_OUT) == 1
    assert counted(readiness=Readiness.WITH_LIMITS) == 0
    assert counted(readiness=Readiness.STAYS_IN) == 1
    assert counted(verdict=Verdict.NOT_INSPECTED) == 1
    assert counted(whereabouts=Whereabouts.WITH_STUDENT) == 0
    assert counted(whereabouts=Whereabouts.ON_BENCH) == 0


@pytest.mark.django_db
def test_a_search_by_words_stops_counting_and_says_so(school, director, monkeypatch):
    monkeypatch.setattr(register, "MOST_FOUND", 2)
    instruments = [make_instrument(school=school, maker="Vale") for _ in range(3)]
    found = register_of(director, Wanted(q="vale"), today=TODAY)
    assert (found.is_cut, found.count(Wanted()), found.count(Wanted(verdict=Verdict.NOT_INSPECTED))) == (True, 2, 2)
    assert numbers(found.rows) == sorted(instrument.asset_number for instrument in instruments)[:2]
    whole = register_of(director, Wanted(kind="trumpet"), today=TODAY)
    assert (whole.is_cut, whole.count(Wanted())) == (False, 3), "only words are counted up to somewhere"


@pytest.mark.django_db
@pytest.mark.parametrize(("most", "scans"), [(3, 1), (2, 2)])
def test_words_and_a_state_are_looked_for_together_only_where_there_is_more_than_is_listed(
    school, director, monkeypatch, most, scans
):
    monkeypatch.setattr(register, "MOST_FOUND", most)
    silent = [make_instrument(school=school, maker="Vale") for _ in range(3)][2]
    Instrument.objects.filter(pk=silent.pk).update(verdict=Verdict.DOES_NOT_PLAY)
    with CaptureQueriesContext(connection) as caught:
        found = register_of(director, Wanted(q="vale", verdict=Verdict.DOES_NOT_PLAY), today=TODAY)
    assert numbers(found.rows) == [silent.asset_number]
    assert found.is_cut is False
    told = [one["sql"] for one in caught if "vale" in one["sql"].lower() and "inventory_instrument" in one["sql"]]
    assert sum('"inventory_instrument"."id" IN' not in sql for sql in told) == scans


@pytest.mark.django_db
def test_the_proposed_number_is_the_one_that_is_taken_next():
    make_district(asset_prefix="EL-", asset_digits=5, next_asset_number=41)
    assert proposed_number(District.objects.get()) == "EL-00041" == next_asset_number()
    assert proposed_number(None) == ""


@pytest.mark.django_db
def test_the_kinds_offered_first_are_those_the_school_has_most_of(school):
    for kind in ("tuba", "tuba", "oboe"):
        make_instrument(school=school, kind_code=kind)
    make_instrument(school=make_school(), kind_code="bassoon")
    offered = [kind.code for kind in kinds_in_use(School.objects.filter(pk=school.pk), today=TODAY)]
    assert offered[:2] == ["tuba", "oboe"]
    assert "bassoon" not in offered
    assert len(offered) == 6


@pytest.mark.django_db
def test_a_kind_is_lost_that_instruments_have_and_the_catalog_has_not(school):
    make_instrument(school=school)
    Instrument.objects.update(kind_code="horn_alto", options={})
    lost = register.lost_kind("horn_alto")
    assert lost is not None
    assert lost.name == "Horn alto (no longer in the catalog)"
    assert [register.lost_kind(code) for code in ("kazoo", "trumpet", "", "\0")] == [None] * 4


def test_makers_come_latest_first_and_once(school):
    for maker in ("Union", "Plain", "Union", ""):
        make_instrument(school=school, maker=maker)
    assert known_makers(Instrument.objects.all()) == ["Union", "Plain"]


SORTS = (
    "asset_number",
    "kind",
    "-kind",
    "maker",
    "serial",
    "-verdict",
    "readiness",
    "whereabouts",
    "school",
    "room",
    "seen_at",
)


@pytest.mark.sqlite
@pytest.mark.django_db
@pytest.mark.parametrize("sort", SORTS)
@pytest.mark.parametrize(
    "wanted",
    [Wanted(), Wanted(whereabouts="in_store"), Wanted(verdict="does_not_play"), Wanted(readiness=register.READY)],
)
def test_the_keys_of_a_page_come_from_an_index_alone(auditor, wanted, sort):
    rows = InstrumentTable(register_of(auditor, wanted, today=TODAY).rows, today=TODAY, order_by=sort).data.data
    plan = rows.values_list("pk", flat=True)[:50].explain()
    covered = "COVERING INDEX instrument_" in plan
    assert covered or plan.startswith("3 0 0 SCAN inventory_instrument USING INDEX sqlite_autoindex"), plan
    if sort in {"asset_number", "kind"}:
        assert "TEMP B-TREE" not in plan, f"sorted although the index is in this order: {plan}"


@pytest.mark.sqlite
@pytest.mark.django_db
def test_a_search_for_words_reads_an_index_and_no_row(auditor):
    rows = narrowed(Instrument.objects.visible_to(auditor), Wanted(q="zzzz shelf 3"))
    plan = rows.order_by("asset_number").values_list("pk", flat=True)[:1001].explain()
    assert "COVERING INDEX instrument_list" in plan, plan


@pytest.mark.django_db
def test_what_is_lent_stays_nowhere_in(school, director):
    lent, here = make_instrument(school=school), make_instrument(school=school)
    Instrument.objects.filter(pk=lent.pk).update(whereabouts=Whereabouts.WITH_STUDENT)
    found = register_of(director, Wanted(readiness=Readiness.STAYS_IN), today=TODAY)
    assert numbers(found.rows) == [here.asset_number]
    assert found.count(Wanted(readiness=Readiness.STAYS_IN)) == 1


REASONED = [code for code, _ in REASONS if code]


@pytest.mark.django_db
@pytest.mark.parametrize("code", REASONED)
def test_a_reason_finds_what_it_keeps_in_be_it_the_only_one_or_not(school, director, code):
    for number, reasons in (("R-1", [code]), ("R-2", ["other", code]), ("R-3", ["other"]), ("R-4", [f"{code}_too"])):
        rows = [{"code": one, "text": "", "clears": "", "stays_in": True} for one in reasons if one != AGED]
        old = TODAY - timedelta(days=1) if code in reasons and code == AGED else None
        make_instrument(school=school, asset_number=number)
        Instrument.objects.filter(asset_number=number).update(readiness_reasons=rows, ready_until=old)
    lent = make_instrument(school=school, asset_number="R-5")
    Instrument.objects.filter(pk=lent.pk).update(
        whereabouts=Whereabouts.WITH_STUDENT, readiness_reasons=[{"code": code}], ready_until=TODAY - timedelta(days=1)
    )
    found = register_of(director, Wanted(reason=code), today=TODAY)
    assert numbers(found.rows) == ["R-1", "R-2"]
    assert found.count(Wanted()) == 2


def test_every_reason_of_the_rule_that_keeps_it_in_can_be_asked_for():
    facts = ReadinessFacts(
        verdict=Verdict.DOES_NOT_PLAY, whereabouts="on_bench", never_issue=("sharp edge",), open_reports=1,
        missing_essentials=("bow",), owed={Owed.HYGIENE}, failed_play_test="G4", is_parts_instrument=True,
        is_retired=True, is_back_from_shop=True, is_kind_known=False, is_return_unseen=True, stopping=("No sound.",),
    )  # fmt: skip
    bare = ReadinessFacts(verdict=Verdict.NOT_INSPECTED, whereabouts="in_store")
    aged = aged_reason(ready_until=TODAY - timedelta(days=1), today=TODAY)
    rules = {one.code for one in (*readiness(facts).reasons, *readiness(bare).reasons, aged) if one.stays_in}
    assert {*REASONED} == rules


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("wanted", "shown"),
    [
        (Wanted(funding="boosters"), ["F-1"]),
        (Wanted(funding="aw-9"), ["F-2"]),
        (Wanted(tag="no"), ["F-3"]),
        (Wanted(tag="yes"), ["F-1", "F-2"]),
        (Wanted(serial="no"), ["F-3"]),
        (Wanted(serial="yes"), ["F-1", "F-2"]),
        (Wanted(q="dist-77"), ["F-2"]),
        (Wanted(unseen="6"), ["F-1", "F-2"]),
        (Wanted(unseen="12"), ["F-1"]),
        (Wanted(unseen="never"), ["F-1"]),
    ],
    ids=str,
)
def test_funding_tag_and_serial(school, director, wanted, shown):
    make_instrument(school=school, asset_number="F-1", serial="1", funding_source="Band Boosters 2019")
    make_instrument(school=school, asset_number="F-2", serial="2", award_number="AW-99")
    make_instrument(school=school, asset_number="F-3", serial="", issue_tag_too=False)
    Instrument.objects.filter(asset_number="F-2").update(seen_at=NOW - timedelta(days=200), second_number="Dist-771")
    Instrument.objects.filter(asset_number="F-3").update(seen_at=NOW - timedelta(days=3))
    found = register_of(director, wanted, today=TODAY)
    assert numbers(found.rows) == shown
    assert found.count(Wanted()) == len(shown)
