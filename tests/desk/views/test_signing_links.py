"""A guardian signs on a phone, once; staff send, print and revoke."""

from __future__ import annotations

import hashlib
import logging
import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import Event
from core.pdf import PdfError
from core.request_id import KeyFilter
from loans.models import Agreement, Guardian, SigningLink
from loans.services import write_terms
from loans.services.signing_links import OPENINGS_PER_HOUR
from tests.factories import make_limited_instrument, make_school
from tests.loans.makers import content, make_loan, make_signing_link

pytestmark = pytest.mark.django_db


def page_of(token: str) -> str:
    return reverse("desk:sign-by-link", args=[token])


@pytest.fixture
def phone():
    return Client(enforce_csrf_checks=True)


def opened(phone, token):
    """The page after the tap that opens it."""
    form = form_on(phone.get(page_of(token)))
    return phone.post(page_of(token), form | {"answer": "open"}, follow=True)


def form_on(page) -> dict[str, str]:
    """What the page's own form holds, as a phone without script sends it."""
    fields = dict(re.findall(r'name="(csrfmiddlewaretoken|seen)" value="(\w+)"', page.text))
    return fields | {"signer": "Gale  Guardian", "is_signed": "on"}


def test_what_is_signed_is_kept_byte_for_byte_and_the_link_is_used_up(phone, client, director, school):
    link, token = make_signing_link(make_loan(school=school))
    cover = phone.get(page_of(token))
    assert link.loan.student.name not in cover.text
    assert not Event.objects.filter(act="signing_link_opened").exists()
    page = opened(phone, token)
    assert (page.status_code, page["Referrer-Policy"]) == (200, "strict-origin")
    assert "no-store" in page["Cache-Control"]
    assert "noindex" in page["X-Robots-Tag"]
    typed = form_on(page)

    assert phone.post(page_of(token), typed | {"signer": " ", "is_signed": ""}).status_code == 422
    assert not Agreement.objects.exists()
    answer = phone.post(page_of(token), typed, follow=True)
    assert answer.status_code == 200
    assert "Signed by Gale Guardian on" in answer.text
    agreement = Agreement.objects.get()
    assert (agreement.signed, agreement.guardian_signer, agreement.terms) == ("link", "Gale Guardian", link.terms)
    kept = content(agreement.scan)
    assert kept.decode("ascii") in page.text
    assert kept.decode("ascii") in answer.text
    assert agreement.scan_sha256 == typed["seen"] == hashlib.sha256(kept).hexdigest()
    signed = Event.objects.get(act="agreement_signed")
    assert (signed.actor, signed.after["now"]["scan_sha256"]) == (None, typed["seen"])

    again = phone.post(page_of(token), typed, follow=True)
    assert "csrfmiddlewaretoken" not in again.text
    stranger = Client().get(page_of(token))
    assert stranger.status_code == 410, "the copy is for the browser that opened the link"
    assert link.loan.student.name not in stranger.text
    SigningLink.objects.update(ended_at=timezone.now() - timedelta(hours=1))
    assert phone.get(page_of(token)).status_code == 410
    assert Agreement.objects.count() == 1
    call_command("work", "--once")
    agreement.refresh_from_db()
    assert agreement.pdf_sha256
    client.force_login(director)
    again = client.get(reverse("loans:scan", args=[link.loan_id]))
    assert again.content == kept
    assert "attachment" in again["Content-Disposition"]
    assert Event.objects.get(act="exported").after["what"] == "signed paper"


def test_the_page_shows_the_findings_on_the_instrument_as_the_paper_does(phone, school):
    """A number in the picture for each in the list (the agreement's own paper, no source)."""
    _, token = make_signing_link(
        make_loan(instrument=make_limited_instrument(school=school), limits_reason="Low notes.")
    )
    page = opened(phone, token)
    figure = re.search(r"<figure.*</figure>", page.text, re.DOTALL)
    assert figure
    found = re.findall(r'found-number">(\d+)<', page.text)
    assert sorted(re.findall(r"<text[^>]*>\s*(\d+)\s*</text>", figure[0])) == sorted(found) != []
    assert "href" not in figure[0]


def test_a_text_that_changed_meanwhile_is_not_signed(phone):
    link, token = make_signing_link()
    typed = form_on(opened(phone, token))
    link.loan.student.name = "Ana Rivera"
    link.loan.student.save()
    answer = phone.post(page_of(token), typed)
    assert answer.status_code == 422
    assert "The agreement changed while you were reading." in answer.text
    write_terms(text="Bring it back dry.", actor=link.actor, at=timezone.now())
    gone = phone.post(page_of(token), form_on(answer), follow=True)
    assert gone.status_code == 410
    assert "Ana Rivera" not in gone.text
    assert not Agreement.objects.exists()


def test_a_wrong_address_is_not_found_and_no_log_line_has_a_key(phone, caplog):
    _, token = make_signing_link(at=timezone.now() - timedelta(days=15))
    assert phone.get(page_of("A" * 32)).status_code == 404
    assert phone.get(page_of(token)).status_code == 410
    keys = KeyFilter(addresses=settings.LOGGING["filters"]["keys"]["addresses"])
    lines = [logging.Formatter().format(record) for record in caplog.records if keys.filter(record)]
    assert lines == ["Not Found: /S/…", "Gone: /S/…"]


def test_opened_too_often_it_rests_and_each_opening_is_an_event_without_names(phone):
    link, token = make_signing_link()
    form = form_on(phone.get(page_of(token))) | {"answer": "open"}
    answers = [phone.post(page_of(token), form) for _ in range(OPENINGS_PER_HOUR + 1)]
    assert [answer.status_code for answer in answers] == [302] * OPENINGS_PER_HOUR + [429]
    assert "still works" in answers[-1].text
    assert "no longer works" not in answers[-1].text
    opened = Event.objects.filter(act="signing_link_opened", tenant=link.loan.school_id)
    assert opened.count() == OPENINGS_PER_HOUR
    assert {(one.actor, str(one.before), str(one.after)) for one in opened} == {(None, "{}", "{}")}


def test_not_my_child_ends_it_and_is_on_today(phone, client, director, school):
    link, token = make_signing_link(make_loan(school=school))
    page = opened(phone, token)
    answer = phone.post(page_of(token), form_on(page) | {"answer": "denied"}, follow=True)
    assert answer.status_code == 410
    assert "The school has been told" in answer.text
    assert link.loan.student.name not in answer.text
    client.force_login(director)
    assert "“Not my child”" in client.get(reverse("desk:today")).text


def test_staff_print_it_mail_it_and_revoke_it(client, director, school, settings):
    loan = make_loan(school=school)
    page = reverse("desk:send-link", args=[loan.pk])
    client.force_login(director)
    assert "No mail is set up here" in client.get(page).text
    guardian = loan.student.guardian
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("loans.pdf.signing_links.render_pdf", refuse)
        assert "no link was kept" in client.post(page, {"guardian": guardian.pk, "way": "print"}).text
    assert SigningLink.objects.get().ended == SigningLink.Ended.REVOKED
    assert client.post(page, {"guardian": guardian.pk, "way": "print"})["Content-Type"] == "application/pdf"
    settings.MAIL_IS_SET = True
    refused = client.post(page, {"guardian": guardian.pk, "way": "mail"})
    assert refused.status_code == 422
    assert "no e-mail address" in refused.text
    Guardian.objects.update(email="gale@home.example")
    assert "The link is on its way." in client.post(page, {"guardian": guardian.pk, "way": "mail"}, follow=True).text
    _unprinted, printed, mailed = SigningLink.objects.order_by("pk")
    assert (printed.ended, mailed.token_hash) == ("replaced", None)
    answer = client.post(reverse("desk:revoke-link", args=[loan.pk, mailed.pk]), follow=True)
    assert "Revoked" in answer.text
    foreign, _ = make_signing_link(make_loan(school=make_school()))
    assert client.get(reverse("desk:send-link", args=[foreign.loan_id])).status_code == 404


def test_links_for_all_that_are_shown_go_out_once(client, director, school, settings):
    settings.MAIL_IS_SET = True
    mailed, printed, linked = (make_loan(school=school, actor=director) for _ in range(3))
    foreign = make_loan(school=make_school())
    Guardian.objects.filter(student__in=[mailed.student, foreign.student]).update(email="gale@home.example")
    make_signing_link(linked)
    client.force_login(director)
    page = client.get(reverse("loans:list"), {"state": "to_sign"})
    for words in ("Send 1 link to sign", "Print 1 code", "1 already has a working link."):
        assert words in page.text
    send, shown = reverse("desk:send-links"), {"state": "to_sign"}
    answer = client.post(send, shown | {"way": "mail"}, follow=True)
    assert "1 link is on its way." in answer.text
    assert "Send 1 link" not in answer.text
    assert answer.redirect_chain[-1][0] == f"{reverse('loans:list')}?state=to_sign"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("loans.pdf.signing_links.render_pdf", refuse)
        assert "no link was kept" in client.post(send, shown | {"way": "print"}, follow=True).text
    codes = client.post(send, shown | {"way": "print"})
    assert codes["Content-Type"] == "application/pdf"
    made = SigningLink.objects.filter(ended="").values_list("loan", "way")
    assert sorted(made) == [(mailed.pk, "mail"), (printed.pk, "print"), (linked.pk, "print")]
    assert "There is no link to send" in client.post(send, shown | {"way": "mail"}, follow=True).text
    assert "There is no code to print" in client.post(send, shown | {"way": "print"}, follow=True).text
    assert SigningLink.objects.count() == 4
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("desk.views.signing_links.MOST_LINKS", 2)
        patch.setattr("loans.views.loans.MOST_LINKS", 2)
        many = client.post(send, shown | {"way": "mail"}, follow=True).text
    assert "At most 2 at once." in many
    assert "narrow the list to 2 loans or fewer" in many


def refuse(**_kwargs):
    raise PdfError("no")
