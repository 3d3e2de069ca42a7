"""The morning's questions, each answered for the schools somebody sees."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from desk.selectors.today import (
    LINES_SHOWN,
    TO_REPAIR,
    WAITING_SHOWN,
    administrator_today,
    auditor_today,
    counts_of,
    director_today,
    events_for,
    kind_counts,
    reports_to_answer,
    roles_at,
    school_lines,
    tech_today,
)
from inventory.models import District, Instrument, ProblemReport, Role, StaffRole, Whereabouts, schools_of
from inventory.selectors.charts import chart_digest
from inventory.selectors.fleet import fleets_of, states_of
from inventory.selectors.register import Wanted, register_of
from inventory.services.care import report_problem, require_hygiene
from inventory.services.charts import confirm_chart
from repairs.services.jobs import open_job
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_user,
)
from tests.loans.makers import make_agreement, make_loan

LATER = TODAY + timedelta(days=300)


@pytest.fixture
def fleet(school, director):
    """Two ready trumpets, a limited one, a flute nobody inspected, and a trumpet that is out; one instrument elsewhere."""
    make_ready_instrument(school=school)
    make_ready_instrument(school=school)
    limited = make_instrument(school=school)
    make_inspection(instrument=limited, findings=[("third_valve_slide", "slide_seized", "severe")])
    make_instrument(school=school, kind_code="flute")
    make_loan(school=school, actor=director)
    make_ready_instrument()
    return limited


def fleets(user, *, today=TODAY):
    return fleets_of(schools_of(user), today=today)


def test_kinds_are_counted_in_the_catalogs_order_for_own_schools(fleet, director):
    counts = {count["code"]: count for count in kind_counts(fleets(director).values())}
    assert set(counts) == {"trumpet", "flute"}
    assert (counts["trumpet"]["ready"], counts["trumpet"]["limited"], counts["trumpet"]["total"]) == (2, 1, 4)
    assert (counts["flute"]["ready"], counts["flute"]["total"]) == (0, 1)


def test_a_kind_that_left_the_catalog_is_counted_last_and_says_so(fleet, school, director):
    Instrument.objects.filter(kind_code="flute").update(kind_code="horn_alto", options={})
    *_, lost = kind_counts(fleets(director).values())
    assert (lost["code"], lost["name"]) == ("horn_alto", "Horn alto (no longer in the catalog)")
    assert (lost["ready"], lost["total"]) == (0, 1)


def test_what_aged_out_counts_as_staying_in(fleet, director):
    now, later = (
        counts_of(states_of(fleets(director, today=day).values())) for day in (TODAY, LATER + timedelta(days=400))
    )
    assert (now["ready"], now["limited"], now["out"], now["unseen"], now["total"]) == (2, 1, 1, 1, 5)
    assert (later["ready"], later["limited"]) == (0, 0)


def test_a_director_sees_what_is_overdue_and_reported(fleet, director):
    report = report_problem(instrument=fleet, text="A key hangs.", at=NOW)
    told = director_today(director, today=LATER)
    assert [loan.instrument.school for loan in told["overdue"]] == [fleet.school]
    assert (told["overdue_count"], reports_to_answer(director)) == (1, [report])


def test_another_director_sees_none_of_it(fleet, stranger):
    report_problem(instrument=fleet, text="A key hangs.", at=NOW)
    told = director_today(stranger, today=LATER)
    assert (told["kinds"], told["overdue"], told["unsigned"], told["to_clean"]) == ([], [], [], [])
    assert reports_to_answer(stranger) == []


def test_a_tech_sees_jobs_and_what_waits_for_one(fleet, school, tech):
    bad = make_instrument(school=school)
    make_inspection(instrument=bad, findings=[("piston", "valve_stuck", "severe", "2")])
    job = open_job(instrument=Instrument.objects.get(pk=fleet.pk), bench=make_bench(school=school), actor=tech, at=NOW)
    told = tech_today(tech, today=TODAY)
    assert [line.job for line in told["jobs"]] == [job]
    assert told["jobs"][0].at_hand
    assert (told["waiting"], told["waiting_count"], told["not_inspected"]) == ([bad], 1, 1)


def test_what_waits_for_repair_comes_the_last_inspected_first(school, tech):
    rows = [make_ready_instrument(school=school) for _ in range(WAITING_SHOWN + 2)]
    for day, row in enumerate(rows):
        verdict = TO_REPAIR[day % 2]
        Instrument.objects.filter(pk=row.pk).update(verdict=verdict, inspected_at=NOW - timedelta(days=day))
    told = tech_today(tech, today=TODAY)
    assert told["waiting"] == rows[:WAITING_SHOWN]


def test_reports_to_answer_come_newest_first_without_those_answered(school, director):
    first, answered, last = (
        report_problem(instrument=make_instrument(school=school), text=text, at=NOW + timedelta(minutes=minute))
        for minute, text in enumerate(("stuck", "lost", "bent"))
    )
    ProblemReport.objects.filter(pk=answered.pk).update(closed_at=NOW)
    assert reports_to_answer(director) == [last, first]


@pytest.mark.sqlite
def test_reports_to_answer_are_read_in_the_order_of_an_index(auditor):
    plan = ProblemReport.objects.visible_to(auditor).unanswered().select_related("instrument__school")[:8].explain()
    assert "report_unanswered" in plan
    assert "TEMP B-TREE" not in plan


def test_an_auditor_sees_every_school(fleet, auditor):
    told = auditor_today(auditor, today=LATER)
    assert sum(line["total"] for line in told["schools"]) == 6
    assert (told["overdue_count"], told["untagged"], told["unserialed"]) == (1, 0, 0)
    assert told["events"][0].act
    assert told["numbers"]
    assert set(told["numbers"].values()) <= set(Instrument.objects.values_list("asset_number", flat=True))


def test_what_has_left_the_district_counts_for_no_school(fleet, school, auditor):
    gone = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=gone.pk).update(whereabouts=Whereabouts.GONE)
    for line in school_lines(auditor, fleets(auditor)):
        assert line["total"] == line["plays"] + line["limits"] + line["silent"] + line["unseen"]


def test_what_came_in_the_last_two_weeks_is_new(school, director):
    make_instrument(school=school, at=NOW - timedelta(days=14))
    new = make_instrument(school=school, at=NOW - timedelta(days=13))
    assert director_today(director, today=TODAY)["arrived"] == [new]


def test_an_auditor_of_one_school_reads_the_log_of_that_school_alone(fleet, school, stranger):
    own = make_user(Role.AUDITOR, school=school)
    assert {event.tenant for event in events_for(own)} == {school.pk}
    assert events_for(own).count() < events_for(make_user(Role.AUDITOR)).count()


def test_names_of_overdue_students_stay_with_who_may_read_them(fleet, school):
    """The administrator sees every loan, but names only where also the director."""
    both = make_director()
    StaffRole.objects.create(user=both, role=Role.ADMINISTRATOR)
    assert director_today(both, today=LATER)["overdue"] == []


def test_an_administrator_sees_people_and_schools(fleet, administrator):
    told = administrator_today(administrator, now=timezone.now())
    assert administrator in told["people"]
    assert len(told["schools"]) == 2


def test_an_administrator_sees_how_the_settings_stand(administrator):
    before = administrator_today(administrator, now=timezone.now())
    assert (before["terms"].version, before["paper_years"]) == (1, None)
    assert before["charts_open"] > 0
    District.objects.update(keep_papers_years=4, next_asset_number=12)
    confirm_chart(code="flute", digest=chart_digest("flute"), actor=administrator, on=NOW.date(), at=NOW)
    after = administrator_today(administrator, now=timezone.now())
    assert (after["paper_years"], after["next_number"][-2:]) == (4, "12")
    assert after["charts_open"] == before["charts_open"] - 1


def test_roles_come_with_the_most_daily_work_first(school):
    user = make_user(Role.TECH, Role.ADMINISTRATOR, Role.DIRECTOR, school=school)
    assert roles_at(user) == ["director", "tech", "administrator"]


def test_a_schools_page_costs_the_same_for_few_and_for_many(school, django_assert_max_num_queries):
    director = make_director(school)
    for _ in range(6):
        make_loan(school=school, actor=director)
    with django_assert_max_num_queries(14):
        director_today(director, today=LATER)


def test_what_is_to_sign_and_to_clean_is_listed_with_its_count(fleet, school, director, tech):
    signed = make_agreement(make_loan(school=school, actor=director)).loan
    waits = [make_loan(school=school, actor=director) for _ in range(LINES_SHOWN)]
    dirty = make_ready_instrument(school=school)
    require_hygiene(instrument=dirty, actor=tech, at=NOW)
    require_hygiene(instrument=signed.instrument, actor=tech, at=NOW)  # nobody cleans it while it is out
    told = director_today(director, today=TODAY)
    assert (len(told["unsigned"]), told["unsigned_count"]) == (LINES_SHOWN, len(waits) + 1)
    assert signed not in told["unsigned"]
    assert (told["to_clean"], told["to_clean_count"]) == ([dirty], 1)
    listed = register_of(director, Wanted(reason="hygiene"), today=TODAY)
    assert listed.count(Wanted()) == told["to_clean_count"], "the list that the sum leads to"
