"""What is in force: by the day in the district, in every process, and nothing left over from before."""

from __future__ import annotations

import copy
import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from threading import Thread

import pytest
from django.db import DatabaseError, connection
from django.db.models import Value
from django.db.models.functions import ExtractHour
from django.template import Context, Template
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.catalog.load import catalog, shipped_catalog
from inventory.models import District, Figure, School
from inventory.selectors import figures
from inventory.selectors.figures import (
    enter,
    entered,
    in_force,
    is_recompute_due,
    leave,
    reasons_of,
    set_on,
    to_come,
    value_on,
    values_on,
)  # fmt: skip
from inventory.selectors.school_sums import SchoolSums
from inventory.services.figures import set_figures
from inventory.services.people import add_room
from tests.factories import NOW, TODAY, make_district, make_school, make_user

pytestmark = pytest.mark.django_db
RATE = "bench_rate_amount"


def put(day=TODAY, at=NOW, **values):
    make_district()
    return set_figures(values=values, effective_on=day, actor=None, at=at)


def rate(at=NOW):
    enter(at)
    return catalog().settings[RATE]


def test_nothing_set_is_the_catalog_as_shipped():
    enter(NOW)
    assert catalog() is shipped_catalog()
    assert timezone.get_current_timezone_name() == "America/Chicago"


def test_a_value_holds_from_its_day_on_by_itself():
    put(**{RATE: "40"})
    put(day=TODAY + timedelta(days=7), **{RATE: "45"})
    days = [NOW + timedelta(days=days) for days in (-1, 0, 6, 7, 400)]
    assert [rate(at) for at in days] == [30, 40, 40, 45, 45]


def test_a_day_begins_when_it_does_in_the_district():
    put(time_zone="Pacific/Honolulu")
    put(day=TODAY + timedelta(days=1), **{RATE: "45"})
    evening = datetime(2026, 9, 15, 9, 59, tzinfo=UTC)  # 23:59 in Honolulu, ten hours behind
    assert (rate(evening), rate(evening + timedelta(minutes=1))) == (30, 45)
    assert timezone.localdate(evening) == TODAY


def test_a_zone_set_from_today_holds_at_once_where_its_own_day_is_still_yesterday():
    """Worked by hand: 00:30 on September 15 in Chicago is 22:30 on the 14th in Los Angeles, two hours behind."""
    after_midnight = datetime(2026, 9, 15, 5, 30, tzinfo=UTC)
    enter(after_midnight)
    today = timezone.localdate(after_midnight)
    put(day=today, at=after_midnight, **{RATE: "45"}, time_zone="America/Los_Angeles")
    before = after_midnight - timedelta(minutes=31)
    for at, local, hourly in ((before, 23, 30), (after_midnight, 22, 45), (after_midnight + timedelta(hours=2), 0, 45)):
        assert (rate(at), timezone.localtime(at).hour) == (hourly, local)
    held = in_force(at=after_midnight)
    assert (timezone.localdate(after_midnight, held.zone), held.day) == (today - timedelta(days=1), today)
    assert to_come(day=held.day, values=held.values) == {}
    assert set(set_on(held.values, day=held.day)) == {RATE, "time_zone"}


def test_of_two_zones_the_second_begins_with_its_day_in_the_first():
    """Worked by hand: midnight in Honolulu is 10:00 UTC, in Chicago 05:00 in September."""
    put(time_zone="Pacific/Honolulu")
    put(day=TODAY + timedelta(days=1), time_zone="America/Chicago")
    midnight = datetime(2026, 9, 15, 10, 0, tzinfo=UTC)
    assert [in_force(at=midnight - timedelta(seconds=one)).zone.key for one in (1, 0)] == [
        "Pacific/Honolulu",
        "America/Chicago",
    ]


def test_the_same_figures_are_the_same_catalog_so_that_what_is_remembered_is_found():
    put(**{RATE: "40"})
    enter(NOW)
    first = catalog()
    enter(NOW + timedelta(hours=1))
    assert catalog() is first


def test_another_thread_meets_what_was_set_when_it_next_begins():
    put(**{RATE: "40"})
    enter(NOW)
    met = []

    def work():
        met.append(catalog().settings[RATE])  # before it begins: the catalog's own

    thread = Thread(target=work)
    thread.start()
    thread.join()
    assert (met, catalog().settings[RATE]) == ([30], 40)


def test_a_value_given_back_is_the_catalog_s_again():
    put(**{RATE: "40"})
    put(**{RATE: ""}, at=NOW + timedelta(hours=1))
    assert rate() == 30
    assert in_force(at=NOW).values == {}


def test_of_two_for_one_day_the_later_counts():
    rows = (("a", "1", date(2026, 1, 1)), ("a", "2", date(2026, 1, 5)), ("a", "3", date(2026, 1, 5)))
    assert [values_on(rows, date(2026, 1, day)) for day in (1, 4, 5)] == [{"a": "1"}, {"a": "1"}, {"a": "3"}]
    assert values_on(rows, date(2025, 12, 31)) == {}


def test_entering_asks_nothing_until_a_figure_or_a_time_is_needed(django_assert_num_queries):
    put(**{RATE: "40"})
    leave()
    with django_assert_num_queries(0):
        enter(NOW)
    with django_assert_num_queries(2):
        assert catalog().settings[RATE] == 40
    with django_assert_num_queries(0):
        timezone.localdate(NOW)
        catalog()
    with django_assert_num_queries(1):
        enter(NOW)
        timezone.localdate(NOW)


@pytest.mark.parametrize(("path", "asked"), [("/favicon.ico", 0), ("/instruments/", 0), ("/no/such/page", 0)])
def test_what_shows_no_figure_asks_for_none(client, path, asked):
    """An icon, a way to the log-in, an address that is none."""
    put(**{RATE: "40"})
    with CaptureQueriesContext(connection) as told:
        client.get(path)
    assert len([one for one in told if "figures_mark" in one["sql"]]) == asked


def test_a_page_asks_once_however_much_it_needs(client, administrator):
    put(**{RATE: "40"})
    client.force_login(administrator)
    with CaptureQueriesContext(connection) as told:
        assert client.get("/instruments/").status_code == 200
    assert len([one for one in told if '"figures_mark"' in one["sql"].partition("WHERE")[0]]) == 1


def test_a_time_is_told_in_the_district_s_zone_however_it_is_asked_for():
    put(time_zone="Pacific/Honolulu")
    evening = datetime(2026, 9, 15, 9, 59, tzinfo=UTC)
    typed = evening.replace(tzinfo=None) - timedelta(hours=10)
    ways = (
        lambda: timezone.localtime(evening).hour,
        lambda: timezone.make_aware(typed).astimezone(UTC).hour + 14,
        lambda: evening.astimezone(timezone.get_current_timezone()).hour,
        lambda: copy.deepcopy(timezone.make_aware(typed)).hour,
        lambda: int(Template("{{ at|date:'H' }}").render(Context({"at": evening}))),
        lambda: School.objects.annotate(hour=ExtractHour(Value(evening))).values_list("hour", flat=True).get(),
    )
    make_school()
    for way in ways:  # each the first to ask
        enter(NOW)
        assert way() == 23
        assert timezone.get_current_timezone_name() == "Pacific/Honolulu"


def test_a_zone_chosen_for_a_while_stays_when_figures_are_asked_for():
    put(time_zone="Pacific/Honolulu")
    enter(NOW)
    with timezone.override(UTC):
        catalog()
        assert timezone.get_current_timezone() is UTC
    assert timezone.get_current_timezone_name() == "Pacific/Honolulu"


def test_a_figure_on_another_day_is_what_was_set_for_it():
    put(**{RATE: "40"})
    put(day=TODAY + timedelta(days=7), **{RATE: "45"})
    enter(NOW)
    days = [value_on(RATE, TODAY + timedelta(days=days)) for days in (-1, 0, 6, 7)]
    assert days == ["30", "40", "40", "45"]
    leave()
    assert value_on(RATE, TODAY) == "30"


ELSEWHERE = """
import sys
import django
django.setup()
from datetime import UTC, date, datetime
from inventory.services.figures import set_figures
set_figures(values={sys.argv[1]: sys.argv[2]}, effective_on=date(2026, 9, 14), actor=None, at=datetime(2026, 9, 14, 15, tzinfo=UTC))
"""


@pytest.mark.django_db(transaction=True)
def test_a_change_by_another_process_is_met_as_soon_as_something_begins():
    put(**{RATE: "40"})
    assert rate() == 40  # and so all of it is remembered here
    entry = connection.settings_dict
    at = f"{entry['HOST']}:{entry['PORT']}"
    url = (
        f"sqlite:///{entry['NAME']}"
        if connection.vendor == "sqlite"
        else f"postgresql://{entry['USER']}:{entry['PASSWORD']}@{at}/{entry['NAME']}"
    )
    surroundings = os.environ | {"DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings"}
    subprocess.run([sys.executable, "-c", ELSEWHERE, RATE, "45"], env=surroundings, check=True, timeout=120)
    assert catalog().settings[RATE] == 40, "what has begun goes on as it began"
    assert rate() == 45


def test_when_the_database_does_not_answer_what_held_holds_on(monkeypatch):
    put(**{RATE: "40"}, time_zone="Pacific/Honolulu")
    assert rate() == 40

    def away(**kwargs):
        raise DatabaseError("away")

    monkeypatch.setattr(figures, "in_force", away)
    assert rate() == 40
    enter(NOW)
    enter(NOW)  # nobody asked in between
    assert rate() == 40
    leave()
    assert rate() == 30
    assert timezone.get_current_timezone_name() == "America/Chicago"


def test_stored_state_waits_only_where_it_hangs_on_what_was_set():
    put(**{RATE: "40"})
    assert not is_recompute_due(at=NOW)
    put(day=TODAY + timedelta(days=3), inspection_valid_days="400")
    assert [is_recompute_due(at=NOW + timedelta(days=days)) for days in (0, 2, 3)] == [False, False, True]
    District.objects.update(reckoned_with=in_force(at=NOW + timedelta(days=3)).judged_by)
    assert [is_recompute_due(at=NOW + timedelta(days=days)) for days in (3, 30)] == [False, False]


def test_sums_kept_in_the_process_are_made_anew_under_other_figures():
    school = make_school()
    add_room(school=school, name="Band room", actor=None, at=NOW)  # an event, so that sums are kept
    sums = SchoolSums(lambda schools, *_: dict.fromkeys(schools, catalog().settings[RATE]))

    def read():
        enter(NOW)
        return sums.of(type(school).objects.all(), today=TODAY)[school.pk]

    first, kept = read(), entered()
    put(**{RATE: "40"})
    assert (first, read()) == (30, 40)
    assert kept != entered()


def test_what_set_a_value_and_what_comes_next_are_told():
    person = make_user()
    make_district()
    set_figures(values={RATE: "40"}, effective_on=TODAY, actor=person, at=NOW)
    put(day=TODAY + timedelta(days=9), **{RATE: "45"})
    put(day=TODAY + timedelta(days=5), **{RATE: "42"})
    held = in_force(at=NOW)
    assert set_on(held.values, day=held.day)[RATE].set_by == person
    assert to_come(day=held.day, values=held.values)[RATE].value == "42"


def test_a_reason_stands_beside_the_value_it_was_given_for():
    make_district()
    with_reason, without = (
        set_figures(values={RATE: value}, effective_on=TODAY, actor=None, at=NOW, because=because)[0]
        for value, because in (("40", "Bid of June"), ("45", ""))
    )
    assert reasons_of([with_reason, without]) == {with_reason.pk: "Bid of June"}


def test_a_value_called_off_is_not_to_come():
    put(**{RATE: "40"})
    put(day=TODAY + timedelta(days=5), **{RATE: "42"})
    put(day=TODAY + timedelta(days=5), **{RATE: "40"}, at=NOW + timedelta(minutes=1))
    held = in_force(at=NOW)
    assert to_come(day=held.day, values=held.values) == {}
    assert Figure.objects.count() == 3


def test_a_mark_tells_histories_apart():
    put(**{RATE: "40"})
    first = District.objects.get().figures_mark
    put(**{RATE: "41"})
    put(**{RATE: "40"})
    assert District.objects.get().figures_mark not in {"", first}
    assert rate() == Decimal(40)
