"""Erasing again after a restore; the rest is tried whole, by restoring."""

from __future__ import annotations

import pytest

from core.erasures import Erasure, list_path, note_erasure, noted_erasures
from loans.models import Student
from loans.services.erased_again import erase_again, note_forgotten
from loans.services.erasing import erase_student
from tests.factories import NOW, make_student


@pytest.fixture(autouse=True)
def _own_list(tmp_path, settings):
    settings.ERASURES_FILE = str(tmp_path / "erased")


def erasure(row, **details):
    return Erasure(row=row, at=NOW, details=details)


@pytest.mark.django_db
def test_only_students_who_are_there_and_not_erased_are_erased():
    there, gone = make_student(), make_student()
    Student.objects.filter(pk=gone.pk).update(erased_at=NOW)
    rows = [f"loans.student:{there.pk}", f"loans.student:{gone.pk}", "loans.student:999999", f"other.thing:{there.pk}"]
    assert erase_again(map(erasure, rows), at=NOW) == (1, [])
    assert Student.objects.get(pk=there.pk).name == ""


@pytest.mark.django_db
def test_an_erasing_is_noted_when_it_is_committed_and_not_before(django_capture_on_commit_callbacks):
    student = make_student()
    with django_capture_on_commit_callbacks() as then:
        erase_student(student=student, actor=None, at=NOW)
        assert not list_path().exists()
    for call in then:
        call()
    assert [one.row for one in noted_erasures()] == [f"loans.student:{student.pk}"]
    assert note_forgotten() == 0


@pytest.mark.django_db
def test_a_list_that_cannot_be_written_is_logged_and_made_up_for(
    monkeypatch, caplog, django_capture_on_commit_callbacks
):
    def full(**_asked):
        raise OSError(28, "No space left on device")

    student = make_student()
    with monkeypatch.context() as patch, django_capture_on_commit_callbacks(execute=True):
        patch.setattr("loans.services.erasing.note_erasure", full)
        erase_student(student=student, actor=None, at=NOW)
    assert "the list of erasures could not be written" in caplog.text
    note_erasure(row="loans.student:999999", at=NOW)
    assert note_forgotten() == 1
