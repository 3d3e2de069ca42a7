"""Drawing a sample, examining what was drawn, closing it: the register stays as it is."""

from __future__ import annotations

from decimal import Decimal

import pytest

from core.events import broken_links
from core.exceptions import RefusedError
from core.models import Event, Revision
from core.traces import registered, trace_differences
from inventory.models import Instrument, Role, Sample, SampleItem
from inventory.rules.sampling import draw_sample
from inventory.selectors.samples import Frame, frame_of
from inventory.selectors.state import stored_differences
from inventory.services.samples import MOST_ITEMS, draw, examine, finish, planned, stop
from tests.factories import NOW, make_instrument, make_user, new_nonce
from tests.inventory.sample_makers import SEED, examine_all, make_plan, make_sample

pytestmark = pytest.mark.django_db
D = Decimal


def log_differences() -> list[str]:
    (trace,) = (one for one in registered() if one.model is Sample)
    return list(trace_differences(trace))


def fleet(count: int) -> Frame:
    return Frame({"all": {f"T-{number}": number for number in range(count)}})


def test_a_sample_is_kept_with_all_it_takes_to_draw_it_again(school, auditor):
    sample = make_sample(school=school, actor=auditor, tested_words="It has its case")
    # By hand: 40 % of 8 are 4 deviating; C(4,2)/C(8,2) = 6/28 > 0.1 >= C(4,3)/C(8,3) = 4/56.
    assert (sample.population, sample.size, sample.allowed, sample.distribution) == (8, 3, 0, "hypergeometric")
    numbers = frame_of(school, strata="none").strata
    drawn = draw_sample(seed=SEED, size=3, strata=numbers)
    items = list(sample.items.all())
    assert [(one.place, one.number, one.key) for one in items] == [
        (place, one.number, one.key) for place, one in enumerate(drawn, start=1)
    ]
    assert [one.instrument.asset_number for one in items] == [one.number for one in items]
    event = Event.objects.get(act="sample_drawn")
    assert (event.tenant, event.actor, event.after["now"]["seed"]) == (school.pk, auditor, SEED)
    assert event.after["items"] == [item.pk for item in items]
    assert "case" not in str(event.after)
    assert Revision.objects.get(number=event.number).after == "It has its case"
    assert (log_differences(), list(broken_links())) == ([], [])


def test_strata_are_evaluated_by_the_binomial(school):
    sample = make_sample(school=school, strata="value", cuts=(D(500),))
    # 0.6^5 = 0.078 <= 0.1 < 0.6^4
    assert (sample.size, sample.distribution, sample.cuts) == (5, "binomial", ["500"])


@pytest.mark.parametrize(
    ("plan", "count", "words"),
    [
        ({}, 0, "There are no instruments"),
        ({"is_binomial": True, "tolerable": D("0.05")}, 20, "there are 20"),
        ({"expected": D("0.399")}, 30, "examine every one"),
        ({"tolerable": D("0.001")}, 9000, f"at most {MOST_ITEMS:,}"),
    ],
)
def test_a_plan_that_no_sample_serves_is_refused(plan, count, words):
    with pytest.raises(RefusedError, match=words):
        planned(plan=make_plan(**plan), frame=fleet(count))


def test_nothing_is_drawn_where_nothing_is_tested(school, auditor):
    make_instrument(school=school)
    with pytest.raises(RefusedError, match="Say what is tested"):
        draw(school=school, plan=make_plan(tested=("nothing",)), seed=SEED, actor=auditor, at=NOW)
    assert not Sample.objects.exists()


def test_the_same_form_draws_once(school, auditor):
    for _number in range(8):
        make_instrument(school=school)
    nonce = new_nonce()
    both = [draw(school=None, plan=make_plan(), seed=SEED, actor=auditor, at=NOW, nonce=nonce) for _ in range(2)]
    assert both[0] == both[1]
    assert SampleItem.objects.count() == 3
    assert Event.objects.get(act="sample_drawn").tenant is None


def test_examining_changes_nothing_of_the_register_but_when_it_was_last_seen(school):
    """Common practice, no source: what was held in hand was seen, what was not found was not."""
    sample = make_sample(school=school)
    before = list(Instrument.objects.order_by("pk").values())
    item = sample.items.first()
    examine(item=item, result="deviates", note=" In room 3 ", actor=sample.drawn_by, at=NOW)
    examine(item=item, result="deviates", note="In room 3", actor=sample.drawn_by, at=NOW)  # the same again
    examine(item=item, result="as_recorded", note="", actor=sample.drawn_by, at=NOW)
    item.refresh_from_db()
    assert (item.result, item.note, item.examined_by) == ("as_recorded", "", sample.drawn_by)
    events = Event.objects.filter(act="sample_examined").order_by("number")
    changes = [(one.before.get("result"), one.after["result"]) for one in events]
    assert changes == [(None, "deviates"), ("deviates", "as_recorded")]
    assert {one.thread for one in events} == {item.instrument.thread}
    seen = [row | {"seen_at": NOW} if row["id"] == item.instrument_id else row for row in before]
    assert list(Instrument.objects.order_by("pk").values()) == seen
    examine(item=item, result="not_found", note="", actor=sample.drawn_by, at=NOW)
    assert list(Instrument.objects.order_by("pk").values()) == before
    assert log_differences() == []
    assert [changed for _row, changed in stored_differences(Instrument.objects.all()) if changed] == []


def test_what_somebody_else_recorded_meanwhile_is_not_written_over(school):
    sample = make_sample(school=school)
    item, other = sample.items.first(), make_user(Role.AUDITOR)
    examine(item=item, result="deviates", note="In room 3", seen="", actor=other, at=NOW)
    with pytest.raises(RefusedError, match=f"Somebody else has recorded this one.*{other} did that"):
        examine(item=item, result="as_recorded", note="", seen="", actor=sample.drawn_by, at=NOW)
    item.refresh_from_db()
    assert (item.result, item.examined_by) == ("deviates", other)
    examine(item=item, result="as_recorded", note="", seen="deviates", actor=sample.drawn_by, at=NOW)


@pytest.mark.parametrize(("result", "note"), [("fine", ""), ("", ""), ("deviates", "  ")])
def test_what_says_nothing_is_refused(school, result, note):
    item = make_sample(school=school).items.first()
    with pytest.raises(RefusedError):
        examine(item=item, result=result, note=note, actor=item.sample.drawn_by, at=NOW)
    item.refresh_from_db()
    assert item.result == ""


def test_a_sample_is_finished_when_nothing_is_left_and_then_stays_as_it_is(school):
    sample = make_sample(school=school)
    with pytest.raises(RefusedError, match="3 instruments are still to be examined"):
        finish(sample=sample, actor=sample.drawn_by, at=NOW)
    examine_all(sample, result="not_found")
    finish(sample=sample, actor=sample.drawn_by, at=NOW)
    sample.refresh_from_db()
    assert sample.is_finished
    assert Event.objects.get(act="sample_finished").after == {"deviations": 3, "because": ""}
    item = sample.items.first()
    for again in (
        lambda: examine(item=item, result="as_recorded", note="", actor=sample.drawn_by, at=NOW),
        lambda: finish(sample=sample, actor=sample.drawn_by, at=NOW),
        lambda: stop(sample=sample, because="time", actor=sample.drawn_by, at=NOW),
    ):
        with pytest.raises(RefusedError, match="This sample is closed"):
            again()
    assert log_differences() == []


def test_one_that_is_stopped_says_why(school):
    sample = make_sample(school=school)
    with pytest.raises(RefusedError, match="Choose why"):
        stop(sample=sample, because="boredom", actor=sample.drawn_by, at=NOW)
    stop(sample=sample, because="plan", actor=sample.drawn_by, at=NOW)
    sample.refresh_from_db()
    assert (sample.is_open, sample.is_finished) == (False, False)
    assert log_differences() == []
