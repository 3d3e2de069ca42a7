"""The paper is made after the signatures are saved, once, and one that cannot be made is tried again."""

from __future__ import annotations

import hashlib

import pytest
from django.core.management import call_command
from django_tasks_db.models import DBTaskResult, get_date_max

from core.models import Event
from core.pdf import PdfError
from loans.models import Agreement, Student
from loans.selectors.papers import PAPER_TASK
from loans.tasks import make_paper, print_agreement, queue_due_papers
from tests.factories import NOW
from tests.loans.makers import content, make_agreement

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
