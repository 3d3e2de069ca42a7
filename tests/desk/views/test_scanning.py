"""Scan, find, the tag's page for the public, and its report of a problem."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from inventory.models import Instrument, ProblemReport, Tag
from inventory.services.registering import issue_tag, revoke_tag
from tests.factories import NOW, make_director, make_instrument, make_ready_instrument, make_school
from tests.inventory.leaving_makers import make_disposal
from tests.loans.makers import make_loan


@pytest.fixture
def instrument(school):
    return make_ready_instrument(
        school=school, asset_number="TD-0042", acquisition_cost_amount=1250, replacement_amount=2345
    )


@pytest.fixture
def tag(instrument):
    return Tag.objects.live().get(instrument=instrument)


def page_of(tag):
    return reverse("desk:tag", args=[tag.token])


def report_of(tag):
    return reverse("desk:report", args=[tag.token])


def find(client, text, **more):
    return client.get(reverse("desk:find"), {"text": text, **more})


# Staff


def test_the_scan_page_offers_camera_and_number(client, director):
    client.force_login(director)
    page = client.get(reverse("desk:scan")).text
    assert "data-scan" in page
    assert 'name="text"' in page


def test_a_scanned_tag_leads_staff_to_the_instrument(client, director, instrument, tag):
    client.force_login(director)
    answer = client.get(page_of(tag))
    assert answer.headers["Location"] == reverse("desk:instrument", args=[instrument.asset_number])


def test_scanning_takes_few_queries(client, director, tag, django_assert_max_num_queries):
    client.force_login(director)
    client.get(page_of(tag))
    with django_assert_max_num_queries(15):
        client.get(page_of(tag))


@pytest.mark.parametrize("typed", ["TD-0042", "42", "td-0042"])
def test_a_typed_number_leads_to_the_instrument(client, director, instrument, typed):
    client.force_login(director)
    assert find(client, typed).headers["Location"] == reverse("desk:instrument", args=[instrument.asset_number])


@pytest.mark.parametrize(("then", "page"), [("lend", "desk:lend-this"), ("take-back", "desk:take-back")])
def test_of_several_found_each_goes_on_to_what_was_begun(client, director, school, then, page):
    instruments = [make_ready_instrument(school=school, serial=f"77{n}", asset_number=f"TD-077{n}") for n in (1, 2)]
    client.force_login(director)
    told = find(client, "TD-077", then=then).text
    assert f'name="then" value="{then}"' in told
    for instrument in instruments:
        assert reverse(page, args=[instrument.asset_number]) in told


def test_an_empty_line_says_what_to_type_and_keeps_what_was_begun(client, director):
    client.force_login(director)
    answer = find(client, "", then="lend")
    assert answer.status_code == 422
    assert "Type a number first" in answer.text
    assert 'name="then" value="lend"' in answer.text


def test_who_came_to_lend_goes_on_to_lending(client, director, instrument):
    client.force_login(director)
    assert find(client, "42", then="lend").headers["Location"] == reverse("desk:lend-this", args=["TD-0042"])
    assert find(client, "42", then="//elsewhere.example").headers["Location"].startswith("/i/")


def test_several_candidates_are_offered(client, director, school):
    for number in (1, 2):
        make_instrument(school=school, asset_number=f"TD-10{number}9")
    client.force_login(director)
    page = find(client, "9")
    assert page.status_code == 200
    assert "TD-1019" in page.text
    assert "TD-1029" in page.text


def test_nothing_found_says_so_and_shows_what_was_typed(client, director):
    client.force_login(director)
    page = find(client, "<i>77</i>")
    assert "Nothing found" in page.text
    assert "&lt;i&gt;77&lt;/i&gt;" in page.text
    assert "<i>77" not in page.text


def test_ten_thousand_characters_are_refused(client, director):
    client.force_login(director)
    assert find(client, "9" * 10_000).status_code == 422


def test_another_schools_number_is_not_found(client, stranger, instrument):
    client.force_login(stranger)
    assert "TD-0042" not in find(client, "TD-0042").text.replace('value="TD-0042"', "")


def test_a_revoked_tag_tells_staff_what_it_was_on(client, director, instrument, tag):
    revoke_tag(tag=tag, because="worn", actor=director, at=NOW)
    client.force_login(director)
    answer = client.get(page_of(tag))
    assert answer.status_code == 410
    assert "TD-0042" in answer.text


def test_the_tag_of_what_was_sold_says_so_to_who_may_see_it_and_to_nobody_else(
    client, director, stranger, instrument, tag
):
    """Common practice, no source: what comes back to the band room is looked up before anybody uses it."""
    make_disposal(instrument)
    client.force_login(director)
    page = client.get(reverse("desk:find"), {"text": f"HTTPS://X/T/{tag.token}"}, follow=True)
    assert page.status_code == 410
    assert "TD-0042, which is out of the fleet. Sold, " in " ".join(page.text.split())
    assert reverse("desk:instrument", args=["TD-0042"]) in page.text
    for somebody in (stranger, None):
        client.logout()
        if somebody:
            client.force_login(somebody)
            answer = find(client, tag.token)
            assert answer.headers["Location"] == page_of(tag)
        text = client.get(page_of(tag)).text
        assert "TD-0042" not in text
        assert "Sold" not in text


# The public


def test_the_public_learns_whose_it_is_and_how_to_return_it(client, instrument, tag, school):
    page = client.get(page_of(tag))
    assert page.status_code == 200
    assert school.name in page.text
    assert "TD-0042" in page.text
    assert reverse("desk:report", args=[tag.token]) in page.text


def test_the_public_never_reads_a_name_or_a_value(client, director, school):
    """Of the borrower, the guardian, the staff, the donor; nor what it cost or costs."""
    loan = make_loan(
        actor=director,
        instrument=make_ready_instrument(school=school, acquisition_cost_amount=1250, replacement_amount=2345),
    )
    tag = Tag.objects.live().get(instrument=loan.instrument)
    for address in (page_of(tag), report_of(tag)):
        page = client.get(address).text
        for secret in (loan.student.name, loan.student.guardian.name, director.name, "1250", "1,250", "2345", "2,345"):
            assert secret not in page
        assert not re.search(r"\$\s?\d", page)


def test_staff_of_another_school_see_what_the_public_sees(client, stranger, tag, school):
    client.force_login(stranger)
    page = client.get(page_of(tag))
    assert page.status_code == 200
    assert f"belongs to {school.name}" in page.text


def test_a_revoked_tag_tells_the_public_nothing_of_the_instrument(client, director, tag, school):
    revoke_tag(tag=tag, because="stolen", actor=director, at=NOW)
    answer = client.get(page_of(tag))
    assert answer.status_code == 410
    for secret in ("TD-0042", school.name, "stolen"):
        assert secret not in answer.text


def test_a_replaced_tag_leads_on_and_the_old_one_does_not(client, director, instrument, tag):
    revoke_tag(tag=tag, because="worn", actor=director, at=NOW)
    new = issue_tag(instrument=instrument, actor=director, at=NOW)
    assert (client.get(page_of(tag)).status_code, client.get(page_of(new)).status_code) == (410, 200)


@pytest.mark.parametrize("token", ["ZZZZZZZZZZZZZZZZ", "1", "..%2F..", "x" * 500])
def test_a_token_nobody_issued_is_not_found(client, db, token):
    assert client.get(f"/T/{token}").status_code == 404


def test_a_strangers_tag_is_answered_in_words(client, director):
    assert b"nearest school office" in client.get("/T/ZZZZZZZZZZZZZZZZ").content
    client.force_login(director)
    assert reverse("desk:scan").encode() in client.get("/T/ZZZZZZZZZZZZZZZZ").content


# Reports


def send(client, tag, text="A key hangs.", **more):
    return client.post(report_of(tag), {"text": text, "website": "", **more})


def test_a_report_from_outside_is_a_notice(client, instrument, tag):
    answer = send(client, tag)
    assert answer.headers["Location"] == f"{report_of(tag)}?sent"
    assert "will see your report" in client.get(answer.headers["Location"]).text
    assert ProblemReport.objects.get().text == "A key hangs."
    assert Instrument.objects.get(pk=instrument.pk).readiness == "may_go_out"


def test_a_report_by_staff_keeps_the_instrument_in(client, instrument, tag, director):
    client.force_login(director)
    send(client, tag)
    assert Instrument.objects.get(pk=instrument.pk).readiness == "stays_in"
    assert ProblemReport.objects.get().confirmed_by == director


def test_staff_of_another_school_report_as_strangers(client, instrument, tag):
    client.force_login(make_director(make_school()))
    send(client, tag)
    assert Instrument.objects.get(pk=instrument.pk).readiness == "may_go_out"


def test_an_empty_report_is_given_back(client, tag):
    assert send(client, tag, text="  ").status_code == 422
    assert not ProblemReport.objects.exists()


def test_a_report_too_long_is_given_back_with_what_was_typed(client, tag):
    answer = send(client, tag, text="long " * 500)
    assert answer.status_code == 422
    assert "long long" in answer.text
    assert not ProblemReport.objects.exists()


def test_a_machine_that_fills_every_field_is_thanked_and_forgotten(client, tag):
    assert send(client, tag, website="https://spam.example").headers["Location"] == f"{report_of(tag)}?sent"
    assert not ProblemReport.objects.exists()


def test_more_than_a_few_in_an_hour_are_refused_politely(client, tag, settings):
    settings.REPORTS_PER_HOUR = 3
    answers = [send(client, tag, text=f"Report {number}.").status_code for number in range(5)]
    assert answers == [302, 302, 302, 422, 422]
    assert ProblemReport.objects.count() == 3
    assert "try again in an hour" in send(client, tag, text="Kept words.").text


def test_another_address_is_not_held_back(client, tag, settings):
    settings.REPORTS_PER_HOUR = 1
    assert send(client, tag).status_code == 302
    again = client.post(report_of(tag), {"text": "Another."}, REMOTE_ADDR="198.51.100.7")
    assert again.status_code == 302


def test_no_address_is_stored(client, tag):
    client.post(report_of(tag), {"text": "A key hangs."}, REMOTE_ADDR="198.51.100.7")
    assert "198.51.100" not in ProblemReport.objects.get().source


@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_reports_through_a_revoked_or_unknown_tag(client, director, tag, method):
    revoke_tag(tag=tag, because="worn", actor=director, at=NOW)
    assert getattr(client, method)(report_of(tag), {"text": "x"}).status_code == 404
    assert getattr(client, method)("/T/ZZZZZZZZZZZZZZZZ/REPORT", {"text": "x"}).status_code == 404


def test_a_report_is_text_and_not_markup_for_whoever_reads_it(client, tag, director):
    send(client, tag, text="<script>alert(1)</script>")
    client.force_login(director)
    assert "<script>alert" not in client.get(reverse("desk:today")).text
