"""The list of erasures: ids and moments, never a name, and a damaged line loses no other."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.erasures import erased_since, list_path, note_erasure, noted_erasures
from tests.factories import NOW


@pytest.fixture(autouse=True)
def _own_list(tmp_path, settings):
    settings.ERASURES_FILE = str(tmp_path / "erased")


def test_lines_are_read_as_they_were_noted_and_others_cannot_read_them():
    note_erasure(row="loans.student:1", at=NOW, texts=["a:1:b"])
    note_erasure(row="loans.student:2", at=NOW)
    assert [(one.row, one.at, one.details) for one in noted_erasures()] == [
        ("loans.student:1", NOW, {"texts": ["a:1:b"]}),
        ("loans.student:2", NOW, {}),
    ]
    assert list_path().stat().st_mode & 0o777 == 0o600


def test_without_a_list_nothing_is_noted():
    assert list(noted_erasures()) == []


def test_a_line_cut_off_loses_no_other():
    note_erasure(row="loans.student:1", at=NOW)
    with list_path().open("a") as listed:
        listed.write('{"row": "loans.stu\n[]\n')
    note_erasure(row="loans.student:2", at=NOW)
    assert [one.row for one in noted_erasures()] == ["loans.student:1", "loans.student:2"]


def test_since_counts_from_an_hour_before_and_the_latest_of_a_row():
    for hours in (-3, -0.5, 2):
        note_erasure(row=f"loans.student:{hours < 0}", at=NOW + timedelta(hours=hours), texts=[str(hours)])
    since = erased_since(NOW, noted_erasures())
    assert {row: one.details["texts"] for row, one in since.items()} == {
        "loans.student:True": ["-0.5"],
        "loans.student:False": ["2"],
    }


def test_by_default_it_lies_beside_the_media_folder(settings, tmp_path):
    settings.ERASURES_FILE, settings.MEDIA_ROOT = "", tmp_path / "media"
    assert list_path() == tmp_path / "media.erased"
