from __future__ import annotations

import pytest

from inventory.models import Instrument, Tag, Whereabouts
from inventory.selectors.labels import (
    LabelChoice,
    instruments_for_labels,
    label_count,
    numbers_in,
    tag_history,
    tags_for_labels,
    unknown_numbers,
    untagged,
)
from inventory.services.registering import issue_tag
from tests.factories import NOW, make_instrument, make_room, make_school


def chosen(**choice):
    wanted = LabelChoice(**choice)
    return list(tags_for_labels(instruments_for_labels(Instrument.objects.all(), wanted), wanted))


def test_typed_numbers_are_divided_raised_and_told_once():
    assert numbers_in(" td-1, TD-2;td-1\n\ttd-3 ") == ("TD-1", "TD-2", "TD-3")


@pytest.mark.django_db
def test_only_tags_never_printed_are_chosen_unless_all_are_wanted(school):
    first, second = make_instrument(school=school), make_instrument(school=school)
    Tag.objects.filter(instrument=first).update(printed_at=NOW)
    assert [tag.instrument_id for tag in chosen()] == [second.pk]
    assert [tag.instrument_id for tag in chosen(only_unprinted=False)] == [first.pk, second.pk]


@pytest.mark.django_db
def test_school_room_and_kind_narrow_the_choice(school):
    room = make_room(school=school)
    inside = make_instrument(school=school, room=room, kind_code="tuba")
    make_instrument(school=school)
    make_instrument(school=make_school())
    assert [tag.instrument_id for tag in chosen(room=room.pk)] == [inside.pk]
    assert [tag.instrument_id for tag in chosen(kind="tuba")] == [inside.pk]
    assert len(chosen(school=school.pk)) == 2


@pytest.mark.django_db
def test_typed_numbers_go_before_filters_and_print_again(school):
    one = make_instrument(school=school)
    make_instrument(school=school)
    Tag.objects.update(printed_at=NOW)
    assert [tag.instrument_id for tag in chosen(numbers=(one.asset_number,))] == [one.pk]
    assert unknown_numbers(Instrument.objects.all(), (one.asset_number, "NOPE")) == ["NOPE"]


@pytest.mark.django_db
def test_an_unprinted_mouthpiece_is_chosen_though_its_instrument_is_printed(school):
    instrument = make_instrument(school=school)
    Tag.objects.update(printed_at=NOW)
    piece = issue_tag(instrument=instrument, accessory=instrument.accessories.first(), actor=None, at=NOW)
    assert chosen() == [piece]


@pytest.mark.django_db
def test_what_is_gone_gets_no_label(school):
    instrument = make_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts=Whereabouts.GONE)
    assert chosen(only_unprinted=False) == []


@pytest.mark.django_db
def test_a_revoked_tag_leaves_its_instrument_untagged(school):
    instrument, rows = make_instrument(school=school), Instrument.objects.all()
    assert list(untagged(rows, LabelChoice())) == []
    Tag.objects.update(revoked_at=NOW)
    assert list(untagged(rows, LabelChoice())) == [instrument]
    assert list(untagged(rows, LabelChoice(tag=1))) == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    "wanted", [LabelChoice(), LabelChoice(only_unprinted=False), LabelChoice(kind="tuba")], ids=str
)
def test_as_many_are_counted_as_are_printed(school, wanted):
    printed, bare = make_instrument(school=school), make_instrument(school=school)
    issue_tag(instrument=printed, accessory=printed.accessories.first(), actor=None, at=NOW)
    make_instrument(school=school, kind_code="tuba")
    Tag.objects.filter(instrument=printed, accessory=None).update(printed_at=NOW)
    Tag.objects.filter(instrument=bare).update(revoked_at=NOW)
    rows = instruments_for_labels(Instrument.objects.all(), wanted)
    assert label_count(rows, wanted) == tags_for_labels(rows, wanted).count() + untagged(rows, wanted).count()


@pytest.mark.django_db
def test_counting_stops_at_one_more_than_may_be_printed(school, monkeypatch):
    monkeypatch.setattr("inventory.selectors.labels.MOST_LABELS", 2)
    for number in range(4):
        instrument = make_instrument(school=school)
        if number % 2:
            Tag.objects.filter(instrument=instrument).update(revoked_at=NOW)
    assert label_count(Instrument.objects.all(), LabelChoice()) == 3


@pytest.mark.django_db
def test_the_history_tells_every_tag_the_latest_first(school):
    instrument = make_instrument(school=school)
    first = Tag.objects.get()
    second = issue_tag(instrument=instrument, actor=None, at=NOW)
    assert list(tag_history(instrument)) == [second, first]
