import itertools
from datetime import timedelta

import pytest
from django.db import IntegrityError

from core import events
from core.acts import service
from core.events import (
    NewEvent,
    already,
    broken_links,
    check_links,
    head_of_log,
    lost_head,
    record_event,
    record_events,
)
from core.models import AppendOnlyError, Event, EventHead
from tests.factories import NOW, make_school, make_student, make_user
from tests.tampering import tamper

pytestmark = pytest.mark.django_db


def make_events(count: int = 3) -> list[Event]:
    school = make_school()
    actor = make_user()
    for number in range(count):
        record_event(actor=actor, act="tried", subject=school, at=NOW, tenant=school.pk, after={"try": number})
    return list(Event.objects.order_by("number"))[-count:]


def test_each_event_holds_the_hash_of_the_one_before():
    events = make_events()
    assert [event.previous_hash for event in events[1:]] == [event.hash for event in events[:-1]]
    assert list(broken_links()) == []


def test_a_changed_event_breaks_the_chain_where_it_was_changed():
    event = make_events()[1]
    tamper("UPDATE core_event SET act = 'forged' WHERE id = %s", event.pk)
    assert [line for line in broken_links() if line.startswith(f"event {event.number}:")]


def test_an_event_taken_out_of_the_middle_is_noticed():
    event = make_events()[1]
    tamper("DELETE FROM core_event WHERE id = %s", event.pk)
    assert list(broken_links())


def test_an_event_cut_off_the_end_is_noticed():
    event = make_events()[-1]
    tamper("DELETE FROM core_event WHERE id = %s", event.pk)
    assert list(broken_links()) == [f"the chain ends at {event.number - 1}, but its head says {event.number}"]


def test_a_log_is_checked_in_stretches():
    made = make_events()
    first = check_links(after=made[0].number, seconds=0, at_once=1)
    assert (first.last, first.hash, first.broken, first.is_end) == (made[1].number, made[1].hash, (), False)
    rest = check_links(after=first.last, seconds=9)
    assert (rest.last, rest.hash, rest.broken, rest.is_end) == (made[2].number, made[2].hash, (), True)
    tamper("UPDATE core_event SET act = 'forged' WHERE id = %s", made[1].pk)
    assert check_links(after=made[0].number, seconds=9).broken
    assert check_links(after=made[1].number, seconds=9).broken == ()
    tamper("DELETE FROM core_event WHERE id = %s", made[2].pk)
    assert "but its head says" in check_links(after=made[1].number, seconds=9).broken[-1]


def test_an_event_written_while_the_chain_is_read_is_no_break(monkeypatch):
    made = make_events()
    content_of, written = events.content_of, []

    def write_another(event):
        if event.pk == made[-1].pk and not written:
            written.extend(make_events(1))
        return content_of(event)

    monkeypatch.setattr(events, "content_of", write_another)
    assert list(broken_links()) == []
    assert [one.number for one in written] == [Event.objects.count()]


def test_events_cannot_be_changed_or_deleted_through_the_application():
    event = make_events(1)[0]
    with pytest.raises(AppendOnlyError):
        Event.objects.all().update(act="other")
    with pytest.raises(AppendOnlyError):
        Event.objects.all().delete()
    with pytest.raises(AppendOnlyError):
        event.delete()
    event.act = "other"
    with pytest.raises(AppendOnlyError):
        event.save()
    assert Event.objects.get(pk=event.pk).act == "tried"


def test_a_rolled_back_act_leaves_no_event():
    from django.db import transaction

    before = EventHead.objects.filter(pk=1).values_list("last_number", flat=True).first() or 0
    school = make_school()

    with transaction.atomic():
        record_event(actor=None, act="tried", subject=school, at=NOW)
        transaction.set_rollback(True)
    assert (EventHead.objects.filter(pk=1).values_list("last_number", flat=True).first() or 0) == before


def test_many_events_at_once_follow_on_as_one_by_one():
    make_events(2)
    school, actor = make_school(), make_user()
    new = [
        NewEvent("tried", school, thread="t:1", tenant=school.pk, after={"on": NOW.date(), "n": n}) for n in range(5)
    ]
    record_events(actor=actor, at=NOW, events=iter(new))
    last = Event.objects.newest_first()[0]
    record_event(
        actor=actor,
        act="tried",
        subject=school,
        at=NOW,
        thread="t:1",
        tenant=school.pk,
        after={"on": NOW.date(), "n": 9},
    )
    one = Event.objects.newest_first()[0]
    assert one.number == last.number + 1 == 8
    same = ("at", "actor_id", "act", "subject_type", "subject_id", "thread", "tenant", "before", "request_id")
    assert [getattr(last, name) for name in same] == [getattr(one, name) for name in same]
    assert one.previous_hash == last.hash
    assert list(broken_links()) == []


def test_no_events_at_once_change_nothing():
    make_events(1)
    record_events(actor=None, at=NOW, events=[])
    assert list(broken_links()) == []


def test_events_of_a_generator_are_written_once_and_never_half_on_a_second_try(monkeypatch):
    school = make_school()
    before = Event.objects.count()

    def insert(model, rows):
        list(itertools.islice(rows, 2))
        raise IntegrityError("UNIQUE constraint failed: core_event.number")

    monkeypatch.setattr(events, "insert_rows", insert)
    with pytest.raises(IntegrityError):
        record_events(actor=None, at=NOW, events=(NewEvent("tried", school) for _ in range(3)))
    assert Event.objects.count() == before


def test_many_events_in_an_act_come_at_its_end_in_the_order_they_were_given():
    school = make_school()

    @service
    def act(*, actor, at):
        record_events(actor=actor, at=at, events=(NewEvent(f"tried {n}", school) for n in range(2)))
        record_event(act="last", subject=school)

    act(actor=None, at=NOW)
    assert list(Event.objects.order_by("-number").values_list("act", flat=True)[:3]) == ["last", "tried 1", "tried 0"]
    assert list(broken_links()) == []


@service
def refuse(*, actor, at, **about):
    return already("It is done.", **about)


def test_a_refusal_says_who_was_faster_and_when():
    tech, school = make_user(name="Terry Tech"), make_school()
    about = {"actor": None, "subject": school, "acts": ["tried", "done"]}
    assert refuse(**about, at=NOW) == "It is done."
    record_event(actor=tech, act="tried", subject=school, at=NOW, after={"try": 1})
    record_event(actor=make_user(name="Dana Director"), act="looked", subject=school, at=NOW)
    assert refuse(**about, at=NOW + timedelta(hours=1)) == "It is done. Terry Tech did that today at 10:00 AM."
    later = NOW + timedelta(days=1)
    assert refuse(**about, at=later) == "It is done. Terry Tech did that on Sep 14, 2026 at 10:00 AM."
    record_event(actor=make_user(name="Ari Auditor"), act="done", subject=school, at=later, after={"try": 2})
    assert "Ari Auditor" in refuse(**about, at=later)
    assert "Terry Tech" in refuse(**about, at=later, **{"try": 1})
    record_event(actor=None, act="done", subject=school, at=later)
    assert refuse(**about, at=later) == "It is done."


def test_a_log_without_a_head_is_broken_once_there_are_rows():
    tamper("DELETE FROM core_eventhead")  # a test that committed may have left one
    assert list(broken_links()) == []
    make_student()
    told = "the event log has no head, so nobody can tell whether events were cut off its end"
    assert list(broken_links()) == [told]
    make_events()
    assert list(broken_links()) == []
    tamper("DELETE FROM core_eventhead")
    assert list(broken_links()) == [told]


def test_a_wiped_log_does_not_go_with_its_head():
    make_events(3)
    tamper("DELETE FROM core_event")
    assert list(broken_links()) == ["the chain ends at 0, but its head says 3"]


def test_a_forged_head_is_noticed():
    event = make_events(2)[-1]
    tamper("UPDATE core_eventhead SET last_hash = %s", "f" * 64)
    assert list(broken_links()) == [f"the head of the event log does not hold the hash of event {event.number}"]
    tamper("INSERT INTO core_eventhead (id, last_number, last_hash) VALUES (2, 2, %s)", event.hash)
    assert "the event log has a second head, 2" in list(broken_links())


def test_the_head_is_the_count_and_the_hash_of_the_last_event():
    assert str(head_of_log()) == f"0 {'0' * 64}"
    assert head_of_log().at is None
    last = make_events(2)[-1]
    assert str(head_of_log()) == f"2 {last.hash}"
    assert head_of_log().at == last.at


def test_a_head_printed_once_is_found_again_as_long_as_the_log_only_grew():
    first = str(head_of_log())
    make_events(2)
    printed = str(head_of_log())
    make_events(2)
    assert (lost_head(first), lost_head(printed), lost_head(f" {printed}\n")) == ("", "", "")
    tamper("DELETE FROM core_event")
    tamper("DELETE FROM core_eventhead")
    make_events(4)  # a chain that is whole in itself, made by somebody who has the program too
    Event.objects.get(number=2)
    assert list(broken_links()) == []
    assert "event 2 of the log had another hash when it was printed" in lost_head(printed)
    tamper("DELETE FROM core_event")
    assert lost_head(printed)


@pytest.mark.parametrize(
    "words", ["", "5", "x y", f"2 {'A' * 64}", f"-1 {'a' * 64}", f"{'9' * 40} {'a' * 64}", "2 abc"]
)
def test_what_is_no_head_is_said_to_be_none(words):
    assert "is no head of an event log" in lost_head(words)
