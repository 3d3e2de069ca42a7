"""``manage.py archive_year YEAR``, and ``verify`` of what it made."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command

from core.archives import make_key
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


@pytest.fixture
def key(tmp_path, settings):
    settings.ARCHIVES_DIR, settings.ARCHIVE_KEY_FILE = tmp_path / "archives", tmp_path / "archive.key"
    return make_key(settings.ARCHIVE_KEY_FILE)


def test_a_year_is_archived_and_verified(capsys, key, school, tmp_path):
    make_instrument(school=school)
    path = tmp_path / "year.zip"
    call_command("archive_year", "2020", out=path)
    assert f"{path}\n0 entries, from 2020-07-01 to 2021-06-30\n" in capsys.readouterr().out
    call_command("archive_year", "2021", json=True)
    assert json.loads(capsys.readouterr().out)["first_day"] == "2021-07-01"
    call_command("verify", archive=path, public_key=key)
    assert capsys.readouterr().out == f"5 files with 0 entries checked, 0 differences\nsigned with the key {key}\n"


@pytest.mark.parametrize(("year", "words"), [("1492", "from 1900"), ("2099", "not over yet")])
def test_what_cannot_be_archived_is_refused(key, school, year, words):
    with pytest.raises(CommandError, match=words) as ended:
        call_command("archive_year", year)
    assert ended.value.returncode == 2
