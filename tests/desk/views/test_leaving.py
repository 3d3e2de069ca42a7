"""Pages of what leaves the fleet. Common practice, no source."""

from __future__ import annotations

import io
from datetime import timedelta

import openpyxl
import pypdfium2
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from core.models import Event
from inventory.models import Disposal, Role, StaffRole
from loans.services.losses import end_loss
from repairs.services.worth import settle_decision
from tests.factories import NOW, PASSWORD, TODAY, make_director, make_ready_instrument, make_school, make_user
from tests.inventory.leaving_makers import make_disposal, make_paper_of
from tests.loans.makers import make_loan, make_loss
from tests.pictures import jpeg
from tests.repairs.money_makers import make_decision

pytestmark = [pytest.mark.django_db, pytest.mark.page]


def leave(client, horn, approver, **data):
    given = {"way": "scrapped", "on": TODAY.isoformat(), "because": "Cracked.", "approved_by": approver.pk} | data
    return client.post(reverse("desk:leave", args=[horn.asset_number]), given)


def test_it_leaves_by_the_form_and_is_found_in_its_list_with_its_history(client, school, director, administrator):
    client.force_login(director)
    horn = make_ready_instrument(school=school)
    scan = SimpleUploadedFile("bill.jpg", jpeg(), content_type="image/jpeg")
    assert leave(client, horn, administrator, password="wrong").status_code == 422
    assert not Disposal.objects.exists()
    answer = leave(client, horn, administrator, password=PASSWORD, scan=scan)
    gone = Disposal.objects.get()
    assert answer.headers["Location"] == reverse("desk:disposal", args=[gone.pk])
    assert gone.is_confirmed
    page = client.get(answer.headers["Location"]).text
    assert "Scrapped" in page
    assert "by password" in page
    assert horn.asset_number in client.get(reverse("desk:out")).text
    assert horn.asset_number not in client.get(reverse("inventory:list")).text
    assert client.get(reverse("desk:leave", args=[horn.asset_number])).status_code == 302
    page = client.get(reverse("desk:instrument", args=[horn.asset_number])).text
    assert "How it left" in page
    assert reverse("inventory:play-test", args=[horn.asset_number]) not in page
    assert client.get(reverse("desk:paper-file", args=[gone.papers.get().pk])).content[:2] == b"\xff\xd8"
    assert Event.objects.get(act="exported").after == {"what": "instrument paper", "form": "jpg", "rows": 1}


def test_the_form_says_of_a_supply_that_no_share_is_owed(client, school, director):
    """2 CFR 200.314(a): only unused supplies of an award count, together; the percent has the decimals that were given."""
    client.force_login(director)
    horn = make_ready_instrument(school=school, federal_percent="33.33", acquisition_cost_amount="3496")
    page = client.get(reverse("desk:leave", args=[horn.asset_number])).text
    assert "A federal award paid 33.33% of it. By its cost it is a supply" in page
    assert "that share of the proceeds" not in page


def test_what_is_lent_says_what_to_do_first(client, school, director):
    client.force_login(director)
    page = client.get(reverse("desk:leave", args=[make_loan(school=school).instrument.asset_number])).text
    assert "Take it back first" in page
    assert 'name="way"' not in page


def test_a_decision_to_retire_leads_to_the_form(client, school, director, administrator):
    client.force_login(director)
    decision = make_decision(make_ready_instrument(school=school), "retire", because="Worn out")
    answer = client.post(reverse("repairs:settle-worth", args=[decision.pk]), {"answer": "yes"})
    number = decision.instrument.asset_number
    assert answer.headers["Location"] == reverse("desk:leave", args=[number])
    assert "Say what happens to it" in client.get(answer.headers["Location"]).text
    assert "Record how it leaves" in client.get(reverse("desk:instrument", args=[number])).text


def test_a_decision_settled_elsewhere_prefills_who_approved_it(client, school, director, administrator):
    decision = make_decision(make_ready_instrument(school=school), "retire", because="Worn out")
    settle_decision(decision=decision, is_approved=True, actor=administrator, at=NOW)
    client.force_login(director)
    form = client.get(reverse("desk:leave", args=[decision.instrument.asset_number])).context["form"]
    assert (form.initial["approved_by"], form.initial["because"]) == (administrator.pk, "Worn out")


def test_it_is_back_or_never_left(client, school, director):
    client.force_login(director)
    sold = make_disposal(make_ready_instrument(school=school))
    url = reverse("desk:bring-back", args=[sold.pk])
    assert client.post(url, {"how": "wrong", "because": ""}).status_code == 422
    client.post(url, {"how": "wrong", "because": "Wrong number."})
    sold.refresh_from_db()
    assert sold.was_wrong
    assert client.get(url).status_code == 404
    assert "The entry was wrong" in client.get(reverse("desk:disposal", args=[sold.pk])).text


@pytest.mark.parametrize(("way", "is_revoked"), [("sold", True), ("stolen", False)])
def test_whoever_brings_it_back_hears_of_its_tags_where_they_were_revoked(client, school, director, way, is_revoked):
    client.force_login(director)
    gone = make_disposal(make_ready_instrument(school=school), way=way)
    given = {"how": "wrong", "because": "Wrong number."}
    page = client.post(reverse("desk:bring-back", args=[gone.pk]), given, follow=True).text
    assert "is back in storage" in page
    assert ("Its tags were revoked" in page) is is_revoked


def test_a_small_sale_becomes_a_large_one_only_with_the_password_of_who_may_approve_it(
    client, school, director, administrator
):
    client.force_login(director)
    other = make_director(school=school)
    sold = make_disposal(make_ready_instrument(school=school), actor=director, approved_by=other)
    url = reverse("desk:change-disposal", args=[sold.pk])
    for data, words in (
        ({}, "Choose who approves it"),
        ({"approved_by": other.pk, "password": PASSWORD}, "above what"),
        ({"approved_by": administrator.pk}, "types their own password"),
        ({"approved_by": administrator.pk, "password": "wrong"}, "not the password of"),
    ):
        answer = client.post(url, {"proceeds_amount": "40000"} | data)
        assert (answer.status_code, words in answer.text) == (422, True)
        assert PASSWORD not in answer.text
    assert Disposal.objects.get().proceeds_amount == 40
    given = {"proceeds_amount": "40000", "approved_by": administrator.pk, "password": PASSWORD}
    assert client.post(url, given).status_code == 302
    gone = Disposal.objects.get()
    assert (gone.proceeds_amount, gone.approved_by, gone.is_confirmed) == (40_000, administrator, True)


def test_what_became_known_and_papers_are_added(client, school, director):
    client.force_login(director)
    sold = make_disposal(make_ready_instrument(school=school))
    client.post(reverse("desk:change-disposal", args=[sold.pk]), {"recipient": "Pawn shop", "proceeds_amount": "45"})
    scan = SimpleUploadedFile("bill.jpg", jpeg(), content_type="image/jpeg")
    client.post(reverse("desk:add-paper", args=[sold.pk]), {"title": "Bill of sale", "scan": scan})
    page = client.get(reverse("desk:disposal", args=[sold.pk])).text
    assert "Pawn shop" in page
    assert "$45" in page
    assert "Bill of sale" in page
    paper = sold.papers.get()
    withdraw = reverse("desk:withdraw-paper", args=[paper.pk])
    assert withdraw in page
    assert client.post(withdraw, {"because": " "}).status_code == 422
    page = client.post(withdraw, {"because": "Of another horn"}, follow=True).text
    assert "Of another horn" in page
    assert client.get(reverse("desk:paper-file", args=[paper.pk])).status_code == 404
    assert client.post(withdraw, {"because": "Again"}).status_code == 404


@pytest.mark.parametrize("form", ["csv", "xlsx", "pdf"])
def test_the_list_is_a_file(client, school, auditor, form):
    sold = make_disposal(make_ready_instrument(school=school), recipient="=1+1")
    client.force_login(auditor)
    make_school()
    answer = client.get(reverse("desk:out-export", args=[form]), {"way": "sold", "school": school.pk})
    assert Event.objects.get(act="exported").tenant == school.pk
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if form == "xlsx":
        rows = list(openpyxl.load_workbook(io.BytesIO(body)).active.iter_rows(values_only=True))
        assert sold.instrument.asset_number in rows[1]
        assert 40 in rows[1]
    else:
        assert sold.instrument.asset_number.encode() in body if form == "csv" else body.startswith(b"%PDF")
    assert client.get(reverse("desk:out-export", args=["txt"])).status_code == 404


def test_a_lost_file_is_not_found(client, school, director):
    client.force_login(director)
    paper = make_paper_of(make_disposal(make_ready_instrument(school=school)))
    paper.file.storage.delete(paper.file.name)
    assert client.get(reverse("desk:paper-file", args=[paper.pk])).status_code == 404


@pytest.mark.parametrize("is_lent", [True, False])
def test_the_report_of_a_loss_has_what_was_found_out(client, school, director, is_lent):
    if is_lent:
        loss = make_loss(make_loan(school=school))
        end_loss(loss=loss, outcome="given_up", actor=loss.actor, at=NOW + timedelta(days=1))
        horn = loss.loan.instrument
    else:
        horn = make_ready_instrument(school=school)
    horn.refresh_from_db()
    gone = make_disposal(horn, way="stolen", findings="The lock was cut.", at=NOW + timedelta(days=2),
                         on=TODAY + timedelta(days=2))  # fmt: skip
    client.force_login(director)
    url = reverse("desk:loss-report", args=[gone.pk])
    assert url in client.get(reverse("desk:disposal", args=[gone.pk])).text
    text = pypdfium2.PdfDocument(client.get(url).content)[0].get_textpage().get_text_range()
    assert "The lock was cut." in text
    assert ("student who had it" in text) is is_lent
    assert Event.objects.get(act="exported").after == {"what": "loss report", "form": "pdf", "rows": 1}
    sold = make_disposal(make_ready_instrument(school=school))
    assert client.get(reverse("desk:loss-report", args=[sold.pk])).status_code == 404


@pytest.mark.parametrize(("role", "is_seen"), [(Role.AUDITOR, True), (Role.ADMINISTRATOR, False)])
def test_the_report_has_the_familys_case_for_those_who_may_see_it(client, school, role, is_seen):
    loss = make_loss(make_loan(school=school), circumstances="Left on the late bus.")
    end_loss(loss=loss, outcome="given_up", actor=loss.actor, at=NOW + timedelta(days=1))
    loss.loan.instrument.refresh_from_db()
    gone = make_disposal(loss.loan.instrument, way="lost", findings="Not at the depot.", at=NOW + timedelta(days=2),
                         on=TODAY + timedelta(days=2))  # fmt: skip
    client.force_login(make_user(role))
    answer = client.get(reverse("desk:loss-report", args=[gone.pk]))
    text = pypdfium2.PdfDocument(answer.content)[0].get_textpage().get_text_range()
    assert "Not at the depot." in text
    assert ("Left on the late bus." in text, "student" in text) == (is_seen, is_seen)


@pytest.mark.parametrize(("role", "is_seen"), [(Role.DIRECTOR, True), (Role.ADMINISTRATOR, False)])
def test_the_form_is_filled_from_the_familys_case_for_those_who_may_see_it(client, school, role, is_seen):
    loss = make_loss(make_loan(school=school), circumstances="Left on the late bus.")
    end_loss(loss=loss, outcome="given_up", actor=loss.actor, at=NOW + timedelta(days=1))
    client.force_login(make_user(role, school=school if role == Role.DIRECTOR else None))
    page = client.get(reverse("desk:leave", args=[loss.loan.instrument.asset_number]))
    assert page.status_code == 200
    assert ("Left on the late bus." in page.text) is is_seen


def test_who_has_it_and_what_was_found_out_are_for_those_who_see_papers_at_its_school(client, school, director, tech):
    told = {"recipient": "Plain Pawn Shop", "findings": "The lock was cut.", "police_agency": "Town police",
            "police_number": "26-77", "insurer": "Plain Mutual", "claim_number": "C-5"}  # fmt: skip
    gone = make_disposal(make_ready_instrument(school=school), way="stolen", **told)
    elsewhere = make_director()
    StaffRole.objects.create(user=elsewhere, role=Role.TECH, school=school)
    for user, is_seen in ((director, True), (tech, False), (elsewhere, False)):
        client.force_login(user)
        page = client.get(reverse("desk:disposal", args=[gone.pk])).text
        assert "Stolen, written off" in page
        assert {words in page for words in told.values()} == {is_seen}
