import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db.migrations.recorder import MigrationRecorder

from core.checks import check_version

pytestmark = pytest.mark.django_db


def test_a_database_of_this_version_passes():
    assert check_version(databases=["default"]) == []
    assert check_version() == []


def test_what_a_newer_version_has_changed_is_not_migrated_by_an_older_one():
    MigrationRecorder.Migration.objects.create(app="core", name="9999_of_next_year")
    with pytest.raises(SystemCheckError, match=r"core\.9999_of_next_year(?s:.*)restore the backup"):
        call_command("migrate", verbosity=0, skip_checks=False)


def test_an_app_that_was_taken_out_leaves_rows_that_disturb_nobody():
    MigrationRecorder.Migration.objects.create(app="long_gone", name="0001_initial")
    assert check_version(databases=["default"]) == []
