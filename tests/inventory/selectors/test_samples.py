"""The frame of a sample, how far the fieldwork is, and drawing it again."""

from __future__ import annotations

import subprocess
from decimal import Decimal

import pytest

from desk.services.merging import merge_records
from inventory.models import Sample, SampleItem, Whereabouts
from inventory.selectors.samples import (
    by_stratum,
    drawn_again,
    frame_of,
    is_drawn_so,
    item_of,
    progress_of,
    recorded_of,
    stratum_words,
    with_progress,
)
from inventory.services.samples import examine
from inventory.services.state import move_instrument
from tests.factories import NOW, make_instrument, make_room, make_school
from tests.inventory.sample_makers import examine_all, make_sample

pytestmark = pytest.mark.django_db
D = Decimal


def test_the_frame_is_what_is_held_by_school_or_by_value(school):
    """A trumpet without a price of its own counts at the middle of its kind's, (400 + 900) / 2."""
    oak = make_school(code="OAK")
    cheap, dear, there = (
        make_instrument(school=school),
        make_instrument(school=school, replacement_amount=D(5000)),
        make_instrument(school=oak),
    )
    gone = make_instrument(school=school)
    move_instrument(instrument=gone, expected=Whereabouts.IN_STORE, to=Whereabouts.GONE, actor=None, at=NOW)
    numbers = {one.pk: one.asset_number for one in (cheap, dear, there)}
    assert frame_of(school, strata="none").strata == {"all": {numbers[cheap.pk]: cheap.pk, numbers[dear.pk]: dear.pk}}
    whole = frame_of(None, strata="school")
    assert (whole.population, whole.counts) == (3, {"ELM": 2, "OAK": 1})
    by_value = frame_of(None, strata="value", cuts=(D(650), D(5001)))
    assert by_value.counts == {"B": 3}
    assert frame_of(None, strata="value", cuts=(D("650.01"), D(5000))).counts == {"A": 2, "C": 1}


def test_what_the_register_said_is_kept(school):
    room = make_room(school=school, name="Room 12")
    one = make_instrument(school=school, room=room, place="Shelf B", model="Student", serial="77")
    assert recorded_of([one.pk])[one.pk] == {
        "kind": "trumpet", "maker": "Plain Brass Works", "model": "Student", "serial": "77",
        "school": "Elm Street Middle", "room": "Room 12", "place": "Shelf B", "whereabouts": "in_store",
        "verdict": "not_inspected",
    }  # fmt: skip


def test_a_sample_says_something_once_every_instrument_was_examined(school):
    sample = make_sample(school=school)
    first, *rest = SampleItem.objects.filter(sample=sample)
    examine(item=first, result="not_found", note="", actor=sample.drawn_by, at=NOW)
    progress = progress_of(sample)
    assert (progress.left, progress.examined, progress.deviations) == (2, 1, 1)
    assert progress.evaluation is None
    for item in rest:
        examine(item=item, result="as_recorded", note="", actor=sample.drawn_by, at=NOW)
    found = progress_of(sample).evaluation
    assert found is not None
    # By hand: of 8 with D deviating, 3 drawn, at most one deviating. D = 6: C(6,1)C(2,2)/C(8,3) = 6/56 = 0.107 > 0.1;
    # D = 7 leaves one good, so at least two of three deviate. The limit is 6 of 8.
    assert (found.limit.rate, found.is_passed) == (D("0.75"), False)
    (row,) = with_progress(Sample.objects.all())
    assert (row.left, row.deviations) == (0, 1)


def test_strata_are_counted_apart(school):
    oak = make_school(code="OAK", name="Oak Hill")
    for _number in range(4):
        make_instrument(school=oak)
    sample = make_sample(school=school, count=12, strata="school")
    assert stratum_words("school", cuts=())["ELM"] == "Elm Street Middle"
    examine_all(sample, result="deviates", note="Another serial")
    (line,) = by_stratum(sample.items.all(), sample)
    assert line == {
        "stratum": "ELM", "name": "Elm Street Middle", "count": 12, "drawn": 5, "examined": 5, "deviations": 5,
    }  # fmt: skip
    assert stratum_words("value", cuts=(D(500),))["A"] == "under $500"
    assert stratum_words("none", cuts=()) == {}


def test_frame_and_seed_draw_the_same_with_other_tools(school, tmp_path):
    """GNU coreutils: the method as the working paper tells it."""
    sample = make_sample(school=school)
    frame = tmp_path / "frame.txt"
    frame.write_text(sample.frame, encoding="utf-8")
    script = (
        f"cut -f2 {frame} | while read -r n; do printf '%s %s\\n' \"$(printf '%s' \"{sample.seed}:$n\" | sha256sum"
        f' | cut -c1-64)" "$n"; done | sort | head -n {sample.size} | cut -d" " -f2'
    )
    told = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=True).stdout.split()
    items = list(sample.items.all())
    assert told == [item.number for item in items] == [one.number for one in drawn_again(sample)]
    assert is_drawn_so(sample, items)
    assert not is_drawn_so(sample, items[:-1])
    sample.frame = sample.frame.replace("\n", "\nall\tX-1\n", 1)
    assert not is_drawn_so(sample, items)


def test_what_was_merged_is_found_by_the_record_that_was_kept(school):
    sample = make_sample(school=school)
    item = sample.items.first()
    kept = make_instrument(school=school)
    merge_records(kept=kept, away=item.instrument, actor=sample.drawn_by, at=NOW)
    assert item_of(sample, [kept]) == item
    assert item_of(sample, [make_instrument(school=school)]) is None
    assert item_of(sample, []) is None
