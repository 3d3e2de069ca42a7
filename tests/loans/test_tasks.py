"""The paper is made after the signatures are saved, and mail to families is handed over in its hours; each once."""

from __future__ import annotations

import email.policy
import hashlib
import re
from datetime import timedelta
from email import message_from_bytes
from email.message import EmailMessage

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult, get_date_max

from core.mail import mail_trouble
from core.models import Event
from core.pdf import PdfError
from inventory.models import School
from loans.models import Agreement, Guardian, Loan, Notice, SigningLink, Student
from loans.selectors.notices import MAIL_TASK
from loans.selectors.papers import PAPER_TASK
from loans.selectors.signing_links import digest_of
from loans.services.notices import make_reminders
from loans.tasks import (
    LINK_TRIES,
    mail_notice,
    mail_signing_link,
    make_paper,
    print_agreement,
    queue_due_papers,
    queue_notices,
)
from tests.factories import NOW, make_student
from tests.loans.makers import content, make_agreement, make_loan, make_signing_link
from tests.post_office import PostOffice, hand_in_at, open_post_office

pytestmark = pytest.mark.django_db


def test_the_hash_is_that_of_the_kept_file(director):
    kept = print_agreement(agreement=make_agreement(), actor=director, at=NOW)
    assert kept.pdf_sha256 == hashlib.sha256(content(kept.pdf)).hexdigest()


def test_printing_again_gives_the_kept_one(director):
    kept = print_agreement(agreement=make_agreement(), actor=director, at=NOW)
    assert print_agreement(agreement=kept, actor=director, at=NOW).pdf.name == kept.pdf.name


@pytest.fixture
def broken(monkeypatch):
    def fails(*_paper):
        raise PdfError("no fonts for Robin Reed")

    monkeypatch.setattr("loans.tasks.agreement_pdf", fails)


def work(**options):
    call_command("work", "--once", **options)


def queued():
    return DBTaskResult.objects.get(status="READY")


def test_the_path_by_which_a_page_finds_the_task_is_its_own():
    assert make_paper.module_path == PAPER_TASK


def test_the_worker_makes_the_paper_as_the_one_who_lent_it(director):
    agreement = make_agreement()
    make_paper.enqueue(agreement=agreement.pk)
    work()
    agreement.refresh_from_db()
    assert agreement.pdf_sha256 == hashlib.sha256(content(agreement.pdf)).hexdigest()
    assert Event.objects.get(act="agreement_filed").actor == agreement.loan.actor


def test_a_task_that_runs_twice_makes_one_paper():
    agreement = make_agreement()
    for _ in range(2):
        make_paper.enqueue(agreement=agreement.pk)
    work()
    assert Event.objects.filter(act="agreement_filed").count() == 1
    assert DBTaskResult.objects.successful().count() == 2


def test_a_paper_that_cannot_be_made_is_tried_again_later_and_later(broken, caplog):
    agreement = make_agreement()
    make_paper.enqueue(agreement=agreement.pk)
    waits = []
    for _ in range(3):
        work()
        task = queued()
        waits.append(
            (task.run_after - DBTaskResult.objects.exclude(started_at=None).latest("started_at").started_at, task.pk)
        )
        DBTaskResult.objects.filter(pk=task.pk).update(run_after=get_date_max())
    assert [round(wait.total_seconds()) for wait, _ in waits] == [60, 240, 960]
    assert not Agreement.objects.get().pdf_sha256
    assert "was not made, 3 times now: PdfError" in caplog.text
    assert "Robin" not in caplog.text


def test_a_failure_of_the_disk_is_tried_again_too(monkeypatch):
    def full(**_asked):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("loans.tasks.file_agreement_pdf", full)
    make_paper.enqueue(agreement=make_agreement().pk)
    work()
    assert queued().args_kwargs["kwargs"]["failures"] == 1


def test_a_paper_whose_worker_was_killed_is_made_by_the_next_one():
    agreement = make_agreement()
    make_paper.enqueue(agreement=agreement.pk)
    DBTaskResult.objects.get().claim("killed")
    work()
    assert Agreement.objects.get(pk=agreement.pk).pdf_sha256


def test_a_paper_that_nobody_queued_is_found_and_made_once():
    agreement = make_agreement()
    assert queue_due_papers() == 1
    assert queue_due_papers() == 0
    work()
    assert Agreement.objects.get(pk=agreement.pk).pdf_sha256
    assert queue_due_papers() == 0


def test_of_an_erased_student_no_paper_is_made():
    agreement = make_agreement()
    make_paper.enqueue(agreement=agreement.pk)
    Student.objects.update(erased_at=NOW)
    work()
    assert not Agreement.objects.get().pdf_sha256
    assert queue_due_papers() == 0


@pytest.fixture
def use(settings, monkeypatch):
    """Have mail handed in at a post office, at any hour."""
    monkeypatch.setattr("loans.tasks.mailed_from", lambda at: at)

    def set_up(office: PostOffice) -> None:
        hand_in_at(f"smtp://127.0.0.1:{office.port}", settings)
        settings.DEFAULT_FROM_EMAIL = "Hornbook <hornbook@district.example>"

    return set_up


def make_reminder(school: School, director) -> Notice:
    """One that a family whose names have accents is owed today, in Spanish."""
    School.objects.filter(pk=school.pk).update(email="band@elm.example", phone="555-0100", name="Escuela Ñandú")
    student = make_student(
        school=school, name="Zoë Muñoz", guardian_name="José Muñoz", guardian_contact="jose@a.example"
    )
    Guardian.objects.filter(student=student).update(language="es")
    loan = make_loan(school=school, student=student, actor=director)
    today = timezone.localdate()
    lent_on, due_on = today - timedelta(days=90), today - timedelta(days=3)
    Loan.objects.filter(pk=loan.pk).update(is_signed_elsewhere=True, lent_on=lent_on, due_on=due_on)
    (notice,) = make_reminders(today=today, actor=None, at=timezone.now())
    return notice


def read(letter: str) -> EmailMessage:
    """Read back what went over the wire; the post office decodes bytes as UTF-8."""
    message = message_from_bytes(letter.encode(), policy=email.policy.default)
    assert isinstance(message, EmailMessage)
    assert message.defects == []
    return message


def test_mail_is_read_back_whole_by_the_standard_library(school, director, use):
    with open_post_office(PostOffice()) as office:
        use(office)
        notice = make_reminder(school, director)
        assert (queue_notices(), queue_notices()) == (1, 0)
        work()
        mail_notice.enqueue(notice=notice.pk)  # a second task finds it done
        work()
    (letter,) = office.letters
    assert letter.isascii()
    message, number = read(letter), notice.loan.instrument.asset_number
    assert message["Subject"].strip().startswith(f"Trompeta {number}: debía devolverse el ")
    assert "Mu" not in message["Subject"]
    assert (message["To"], message["Reply-To"]) == ("jose@a.example", "band@elm.example")
    assert message["From"].addresses[0].addr_spec == "hornbook@district.example"
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["Message-ID"] == f"<notice-{notice.pk}@district.example>"
    text = message.get_content().replace("\r\n", "\n")
    assert text.startswith("Hola, José Muñoz:\n\nZoë Muñoz tiene un instrumento de la escuela: Trompeta")
    assert "Dana Director\nEscuela Ñandú\n555-0100" in text
    notice.refresh_from_db()
    assert notice.handed_at is not None


@pytest.mark.parametrize(
    ("answer", "becomes"),
    [
        ("550 5.1.1 Nobody here", ["email came back", "letter waits"]),
        ("550 5.7.1 Relaying denied", ["email waits"]),
        ("450 4.2.0 Try later", ["email waits"]),
    ],
)
def test_a_refused_address_becomes_a_letter_and_other_trouble_waits(school, director, use, answer, becomes):
    with open_post_office(PostOffice(rcpt_answer=answer)) as office:
        use(office)
        make_reminder(school, director)
        queue_notices()
        work()
    rows = Notice.objects.order_by("pk")
    assert [f"{one.way} {'came back' if one.came_back_at else 'waits'}" for one in rows] == becomes
    assert DBTaskResult.objects.filter(task_path=MAIL_TASK, status="READY").exists() == (becomes == ["email waits"])


def test_what_is_not_true_any_more_is_dropped(school, director, use):
    with open_post_office(PostOffice()) as office:
        use(office)
        notice = make_reminder(school, director)
        Loan.objects.update(due_on=timezone.localdate() + timedelta(days=30))
        queue_notices()
        work()
    notice.refresh_from_db()
    assert office.letters == []
    assert notice.dropped_at is not None


def test_mail_waits_for_its_hours(school, director, use, monkeypatch):
    opens = timezone.now() + timedelta(hours=9)
    with open_post_office(PostOffice()) as office:
        use(office)
        notice = make_reminder(school, director)
        monkeypatch.setattr("loans.tasks.mailed_from", lambda _at: opens)
        queue_notices()
        work()
    waits = DBTaskResult.objects.get(task_path=MAIL_TASK, status="READY")
    assert (office.letters, waits.run_after) == ([], opens)
    assert Notice.objects.to_mail().get() == notice


def test_a_letter_with_a_link_is_valid_mime_and_its_link_opens(use):
    """Read back by the standard library's parser of messages, another writer than Django's."""
    loan = make_loan()
    Guardian.objects.update(language="es", email="olga@home.example")
    link, _ = make_signing_link(loan, token="")
    with open_post_office(PostOffice()) as office:
        use(office)
        mail_signing_link.enqueue(link=link.pk, home="http://testserver")
        work()
    (letter,) = office.letters
    message = read(letter)
    assert message["To"] == "olga@home.example"
    assert message["Subject"].strip().startswith("Por favor firme: acuerdo de préstamo de instrumento")
    token = re.search(r"HTTP://TESTSERVER/S/([A-Z2-7]{32})\b", message.get_content())[1]
    assert Client().get(f"/S/{token}").status_code == 200
    assert token not in str(DBTaskResult.objects.values_list("args_kwargs", "return_value"))
    mail_signing_link.enqueue(link=link.pk, home="http://testserver")
    work()
    assert SigningLink.objects.get().token_hash == digest_of(token)


@pytest.mark.parametrize(("answer", "tries"), [("550 5.1.1 Nobody here", 1), ("550 5.7.1 Relaying denied", LINK_TRIES)])
def test_a_letter_the_server_refuses_is_given_up_and_ends_the_link(use, answer, tries):
    loan = make_loan()
    Guardian.objects.update(email="olga@home.example")
    link, _ = make_signing_link(loan, token="")
    mail_signing_link.enqueue(link=link.pk, home="http://testserver")
    with open_post_office(PostOffice(rcpt_answer=answer)) as office:
        use(office)
        for _ in range(tries):
            assert not SigningLink.objects.get().ended
            due = timezone.now() - timedelta(seconds=1)
            DBTaskResult.objects.exclude(run_after__lt=due).update(run_after=due)
            work()
    link.refresh_from_db()
    assert (link.ended, link.token_hash) == ("unsent", None)
    assert mail_trouble(now=timezone.now()).given_up == 1
