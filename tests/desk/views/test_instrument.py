"""The instrument page over HTTP: who sees it, what it says, what it never says, what it costs."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from inventory.models import Acquired, Role, StaffRole
from inventory.services.registering import record_donation
from repairs.services.jobs import open_job
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_inspection,
    make_instrument,
    make_limited_instrument,
    make_ready_instrument,
)
from tests.loans.makers import make_loan


def address(instrument):
    return reverse("desk:instrument", args=[instrument.asset_number])


@pytest.fixture
def stuck(school):
    return make_limited_instrument(school=school)


def test_a_stuck_part_is_priced_over_all_its_ways(client, school, director):
    """A swelled joint that the shop has to ease more often than not costs no $0.50."""
    instrument = make_instrument(school=school, kind_code="flute")
    make_inspection(instrument=instrument, findings=[("foot_tenon", "tenon_tight", "moderate")])
    client.force_login(director)
    page = " ".join(client.get(address(instrument)).text.split())
    minutes, dollars = re.search(r"on average (\d+) min and \$(\d+)\.\d\d to fix", page).groups()
    assert (int(minutes), int(dollars) > 20) == (1, True)


@pytest.mark.parametrize("role", ["director", "tech", "auditor", "administrator"])
def test_every_role_of_the_school_opens_it(client, stuck, role, request):
    client.force_login(request.getfixturevalue(role))
    page = client.get(address(stuck))
    assert page.status_code == 200
    assert stuck.asset_number in page.text
    assert "Plays with limits" in page.text


def test_a_director_elsewhere_who_is_tech_here_reads_no_name(client, school):
    person = make_director()
    StaffRole.objects.create(user=person, role=Role.TECH, school=school)
    loan = make_loan(school=school)
    client.force_login(person)
    assert loan.student.name not in client.get(address(loan.instrument)).text


def test_another_schools_instrument_does_not_exist(client, stuck, stranger):
    client.force_login(stranger)
    answer = client.get(address(stuck))
    assert answer.status_code == 404
    assert stuck.serial not in answer.text


def test_the_public_is_sent_to_log_in(client, stuck):
    answer = client.get(address(stuck))
    assert (answer.status_code, answer.headers["Location"].split("?")[0]) == (302, reverse("core:log-in"))


@pytest.mark.parametrize("number", ["td-9999", "'; DROP TABLE", "\u202e", "x" * 300])
def test_a_number_nobody_has_is_not_found(client, director, number):
    client.force_login(director)
    assert client.get(reverse("desk:instrument", args=[number])).status_code == 404


def test_a_number_in_small_letters_is_the_same_instrument(client, stuck, director):
    client.force_login(director)
    assert client.get(reverse("desk:instrument", args=[stuck.asset_number.lower()])).status_code == 200


def test_the_page_is_not_kept_by_a_shared_phone(client, stuck, director):
    client.force_login(director)
    assert client.get(address(stuck)).headers["Cache-Control"] == "no-store, private"


def test_what_somebody_typed_is_text_and_not_markup(client, school, director):
    instrument = make_instrument(school=school, maker="<script>alert(1)</script>", model="\"'><b>")
    client.force_login(director)
    page = client.get(address(instrument)).text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_a_donor_is_never_named_on_the_page(client, school, director):
    instrument = make_ready_instrument(school=school, acquired_by=Acquired.GIFT)
    record_donation(instrument=instrument, donor_name="Gwendolyn Giver", received_on=TODAY, actor=director, at=NOW)
    client.force_login(director)
    assert "Giver" not in client.get(address(instrument)).text


def test_only_those_who_may_see_names_read_the_borrowers_name(client, director, tech, auditor, school):
    loan = make_loan(school=school, actor=director)
    seen = {}
    for user in (director, tech, auditor):
        client.force_login(user)
        seen[user.username] = loan.student.name in client.get(address(loan.instrument)).text
    assert seen == {name: user.has_perm("loans.view_student_name") for name, user in
                    (("director", director), ("tech", tech), ("auditor", auditor))}  # fmt: skip
    assert seen == {"director": True, "tech": False, "auditor": True}


def ready(school, director):
    return make_ready_instrument(school=school)


def with_findings(school, director):
    return make_limited_instrument(school=school)


def out(school, director):
    return make_loan(school=school, actor=director).instrument


def on_the_bench(school, director):
    instrument = make_limited_instrument(school=school)
    open_job(instrument=instrument, bench=make_bench(school=school), actor=director, at=NOW)
    return instrument


@pytest.mark.parametrize("make", [ready, with_findings, out, on_the_bench])
def test_it_takes_at_most_eighteen_queries(client, director, make, django_assert_max_num_queries):
    instrument = make(director.staff_roles.get().school, director)
    client.force_login(director)
    client.get(address(instrument))
    with django_assert_max_num_queries(18):  # one asks which figures are in force, one what a list said
        client.get(address(instrument))


def test_the_page_has_one_main_act_and_it_is_in_the_bar(client, director, school):
    instrument = make_ready_instrument(school=school)
    client.force_login(director)
    page = client.get(address(instrument)).text
    assert page.count("btn-main") == 1
    assert page.index('class="bar ') < page.index("btn-main")
